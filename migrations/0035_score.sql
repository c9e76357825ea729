-- How good the ranking was, order by order, and summed up by month.
create table scored (
  work_order uuid primary key references work_order (id),
  month bigint not null,               -- of the finding: year * 12 + month - 1
  cause text not null,                 -- the first that was confirmed
  checks bigint not null,              -- looked at until it was found
  minutes bigint not null,             -- and how long that took
  temper text not null,                -- log loss for each power of the evidence, in millionths, joined by ;
  marks text not null                  -- a ranking each, joined by ; ranking,place,probability,top,brier (millionths)
);
create table score_tally (             -- sums over scored
  month bigint not null,
  ranking text not null,               -- shop, catalogue, shares, bench
  what text not null,                  -- place, bin, checks, minutes, brier, log_loss
  at bigint not null,                  -- the place, the tenth of the bin, the checks, the minutes; 0 for sums
  orders bigint not null,
  hits bigint not null,                -- of a bin: how often the first was the one
  amount bigint not null,              -- of a bin or a sum: in millionths
  primary key (month, ranking, what, at)
);
