-- The shop: one row, made at the first start.
create table shop (
  id bigint primary key check (id = 1),
  house uuid not null,              -- names this database; the data folder's marker carries the same
  name text not null,
  address text not null,            -- as printed on papers, lines kept
  phone text not null,
  zone text not null,               -- IANA name of the time zone; local days are counted in it
  hemisphere text not null check (hemisphere in ('northern', 'southern', 'none')),
  seasons text not null,            -- twelve letters, January to December: d dry, h humid, c change
  currency text not null,           -- ISO 4217 code; all money of this database is in its minor units
  labour_rate bigint not null,      -- minor units an hour
  tax_name text not null,           -- what the tax is called on papers, e.g. Sales tax
  tax_labour bigint not null,       -- parts per million
  tax_parts bigint not null,        -- parts per million
  comeback_days bigint not null,    -- so long after pickup the same cause is the shop's to answer
  stub_terms text not null,         -- printed on the claim stub
  version bigint not null,
  created_at bigint not null        -- milliseconds since 1970 in UTC, like every *_at
);
