-- The figures of a month, or of any span that is over, as the owner reported them: shown again as they were.
create table reported (
  id uuid primary key,
  from_month bigint not null,
  to_month bigint not null,
  family text not null,             -- '' for all of them
  kept_at bigint not null,
  name text not null,               -- who kept them
  figures text not null             -- JSON
);
create index reported_span on reported (from_month, to_month, family, kept_at);
