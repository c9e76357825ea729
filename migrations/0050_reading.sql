-- The air of the shop: what the hygrometer showed, and the same kept by day.
create table reading (
  id uuid primary key,
  at bigint not null unique,            -- one moment, one reading
  temperature bigint not null,          -- hundredths of a degree Celsius
  humidity bigint not null,             -- relative, in hundredths of a percent
  came text not null,                   -- typed, file, sent
  by_name text not null,
  staff uuid references staff (id)      -- null: a program
);
create table air_day (                  -- by the day of the shop's calendar; kept with each reading
  day bigint primary key,
  readings bigint not null,
  temperature bigint not null,          -- sums over its readings
  humidity bigint not null,
  moisture bigint not null,             -- of the wood, in thousandths of a percent
  humidity_least bigint not null,
  humidity_most bigint not null,
  moisture_least bigint not null,
  moisture_most bigint not null
);
create table air (                      -- raised by everything that changes the readings, one after the other
  id bigint primary key check (id = 1),
  version bigint not null
);
insert into air (id, version) values (1, 1);
