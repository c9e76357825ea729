-- Who is signed in where. The cookie holds 32 random bytes, this table only their SHA-256.
create table session (
  token_hash text primary key,
  staff uuid not null references staff (id),
  device text not null,             -- the browser's own words, shortened
  created_at bigint not null,
  seen_at bigint not null
);
create index session_staff on session (staff);
