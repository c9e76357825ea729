-- All counts of the reports in one table, by year and by decade, the months of the year side by side: a report over any
-- span reads a few blocks, at any age of the shop, and the seasons can still be told whichever months the shop gives them.
create table tally_block (
  what text not null,               -- orders, comebacks, steps, planned, actual, amount, times
  family text not null,             -- '' for all of them
  months bigint not null,           -- 12 for a year, 120 for a decade
  month bigint not null,            -- its first: year * 12
  age_band text not null,           -- '' for all of them
  code text not null,               -- of the cause ('' for all inspected), the job ('' for free words), or the kind of money
  jan bigint not null default 0, feb bigint not null default 0, mar bigint not null default 0, apr bigint not null default 0,
  may bigint not null default 0, jun bigint not null default 0, jul bigint not null default 0, aug bigint not null default 0,
  sep bigint not null default 0, oct bigint not null default 0, nov bigint not null default 0, dec bigint not null default 0,
  primary key (what, family, months, month, age_band, code)
);
create view counted_before as
  select 'orders' as what, month, family, age_band, cause as code, orders as n from tally
  union all select 'comebacks', month, '', '', cause, orders from comeback_tally
  union all select 'steps', month, '', '', job, steps from job_tally
  union all select 'planned', month, '', '', job, planned_minutes from job_tally
  union all select 'actual', month, '', '', job, actual_minutes from job_tally
  union all select 'amount', month, '', '', kind, amount from money_tally
  union all select 'times', month, '', '', kind, orders from money_tally;
insert into tally_block (what, family, months, month, age_band, code, jan, feb, mar, apr, may, jun, jul, aug, sep, oct, nov, dec)
  select c.what, case when f.each = 1 then c.family else '' end, b.months, c.month / b.months * b.months,
    case when a.each = 1 then c.age_band else '' end, c.code,
    sum(case when c.month % 12 = 0 then c.n else 0 end), sum(case when c.month % 12 = 1 then c.n else 0 end),
    sum(case when c.month % 12 = 2 then c.n else 0 end), sum(case when c.month % 12 = 3 then c.n else 0 end),
    sum(case when c.month % 12 = 4 then c.n else 0 end), sum(case when c.month % 12 = 5 then c.n else 0 end),
    sum(case when c.month % 12 = 6 then c.n else 0 end), sum(case when c.month % 12 = 7 then c.n else 0 end),
    sum(case when c.month % 12 = 8 then c.n else 0 end), sum(case when c.month % 12 = 9 then c.n else 0 end),
    sum(case when c.month % 12 = 10 then c.n else 0 end), sum(case when c.month % 12 = 11 then c.n else 0 end)
  from counted_before c
    cross join (select 12 as months union all select 120) b
    cross join (select 0 as each union all select 1) f
    cross join (select 0 as each union all select 1) a
  -- What is not counted by family or by age stands in their '' alone, once.
  where (c.family <> '' or f.each = 0) and (c.age_band <> '' or a.each = 0)
  -- Of all ages together only the years are kept.
    and (b.months = 12 or a.each = 1 or c.age_band = '')
  group by c.what, case when f.each = 1 then c.family else '' end, b.months, c.month / b.months * b.months,
    case when a.each = 1 then c.age_band else '' end, c.code;
-- Between these months lies all that was counted: a report over all of it may read whole blocks.
create table counted (
  id bigint primary key check (id = 1),
  first_month bigint,               -- null: nothing yet
  last_month bigint
);
insert into counted (id, first_month, last_month) select 1, min(month), max(month) from counted_before;
drop view counted_before;
drop table tally;
drop table comeback_tally;
drop table job_tally;
drop table money_tally;
