-- Who owns the instrument, or answers for it.
create table customer (
  id uuid primary key,
  kind text not null check (kind in ('person', 'school', 'fleet')),
  name text not null,
  phone text not null,              -- as typed
  email text not null,
  note text not null,
  version bigint not null,
  created_at bigint not null
);
