-- Counts kept in the transaction of the act that changes them, so that a report costs the same at any age of the shop.
create table tally (                -- orders inspected, and orders in which a cause was confirmed
  month bigint not null,            -- of the day the order was received: year * 12 + month - 1
  family text not null,
  age_band text not null,           -- at intake
  cause text not null,              -- '' for all that were inspected
  orders bigint not null,
  primary key (month, cause, family, age_band)
);
create table job_tally (            -- steps done, by the month they were done in
  month bigint not null,
  job text not null,                -- '' for steps in free words
  steps bigint not null,
  planned_minutes bigint not null,
  actual_minutes bigint not null,
  primary key (month, job)
);
create table money_tally (          -- by the month of the pickup (charged) or of the payment (taken)
  month bigint not null,
  kind text not null,               -- charged_labour, charged_parts, charged_tax, taken_cash, ..
  amount bigint not null,
  orders bigint not null,
  primary key (month, kind)
);
create table comeback_tally (       -- confirmed findings that are comebacks within the shop's window
  month bigint not null,            -- of the day the order that came back was received
  cause text not null,
  orders bigint not null,
  primary key (month, cause)
);
