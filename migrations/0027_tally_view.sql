-- The same counts month by month, each once, as one looks at them by hand.
create view month_tally as
  select what, family, age_band, code, month, n from (
    select what, family, age_band, code, months, month, jan as n from tally_block
    union all select what, family, age_band, code, months, month + 1, feb from tally_block
    union all select what, family, age_band, code, months, month + 2, mar from tally_block
    union all select what, family, age_band, code, months, month + 3, apr from tally_block
    union all select what, family, age_band, code, months, month + 4, may from tally_block
    union all select what, family, age_band, code, months, month + 5, jun from tally_block
    union all select what, family, age_band, code, months, month + 6, jul from tally_block
    union all select what, family, age_band, code, months, month + 7, aug from tally_block
    union all select what, family, age_band, code, months, month + 8, sep from tally_block
    union all select what, family, age_band, code, months, month + 9, oct from tally_block
    union all select what, family, age_band, code, months, month + 10, nov from tally_block
    union all select what, family, age_band, code, months, month + 11, dec from tally_block
  ) each_month where months = 12 and n <> 0;
create view tally as
  select month, family, age_band, code as cause, n as orders from month_tally
  where what = 'orders' and family <> '' and age_band <> '';
create view comeback_tally as
  select month, code as cause, n as orders from month_tally where what = 'comebacks';
create view job_tally as
  select month, code as job, cast(sum(case when what = 'steps' then n else 0 end) as bigint) as steps,
    cast(sum(case when what = 'planned' then n else 0 end) as bigint) as planned_minutes,
    cast(sum(case when what = 'actual' then n else 0 end) as bigint) as actual_minutes
  from month_tally where what in ('steps', 'planned', 'actual') group by month, code;
create view money_tally as
  select month, code as kind, cast(sum(case when what = 'amount' then n else 0 end) as bigint) as amount,
    cast(sum(case when what = 'times' then n else 0 end) as bigint) as orders
  from month_tally where what in ('amount', 'times') group by month, code;
