-- What was repaired keeps the age in years at intake in place of a band: bands are the shop's, and are told when it is read.
drop index repaired_age;
drop index repaired_ended;
alter table repaired drop column age_band;
-- Null: not known.
alter table repaired add column age bigint;
update repaired set age = (
  -- The year from the days since 1970: whole 400 years of 146,097 days, each year begun in March.
  select case when year_made <= year then year - year_made end from (
    select year_made, yoe + era * 400 + case when (5 * (doe - (365 * yoe + yoe / 4 - yoe / 100)) + 2) / 153 >= 10 then 1 else 0 end as year
    from (
      select year_made, era, doe, (doe - doe / 1460 + doe / 36524 - doe / 146096) / 365 as yoe from (
        select i.year_made, (o.received_on + 719468) / 146097 as era,
          o.received_on + 719468 - (o.received_on + 719468) / 146097 * 146097 as doe
        from work_order o join instrument i on i.id = o.instrument where o.id = repaired.work_order
      ) of_era
    ) of_year
  ) dated);
create index repaired_age on repaired (age, collected_on);
create index repaired_ended on repaired (cause, job, age, month, technician, collected_on, back_on, gone_on)
  where back_on is not null or gone_on is not null;
