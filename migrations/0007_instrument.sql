-- An instrument, or a bow taken in like one.
create table instrument (
  id uuid primary key,
  customer uuid not null references customer (id),
  family text not null check (family in ('violin', 'viola', 'cello', 'bass', 'bow')),
  size text not null,               -- 4/4, 3/4 and so on; a viola's body length
  maker text not null,              -- maker or label as read; the shop does not attest it
  year_made bigint,
  year_certainty text not null check (year_certainty in ('exact', 'circa', 'unknown')),
  serial text not null,
  marks text not null,              -- colour, repairs seen, what tells it from others
  version bigint not null,
  created_at bigint not null,
  check ((year_made is null) = (year_certainty = 'unknown'))
);
create index instrument_customer on instrument (customer);
