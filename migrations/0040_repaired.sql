-- An instrument that will not come again, as far as the shop knows: sold, destroyed, or its owner moved away.
create table gone (
  instrument uuid primary key references instrument (id),
  gone_on bigint not null,          -- seen no longer from this day on
  why text not null check (why in ('sold', 'destroyed', 'moved_away')),
  at bigint not null,
  staff uuid references staff (id)
);
-- Every cause that was put right on an order and went home, and when it came back; kept by the acts that change it.
create table repaired (
  work_order uuid not null references work_order (id),
  instrument uuid not null references instrument (id),
  cause text not null references cause (code),
  family text not null,
  job text not null,                -- the main job done for it; '' in free words
  age_band text not null,           -- at intake
  month bigint not null,            -- of the day it was received, 0 for January
  technician uuid references staff (id), -- who did that job; null: a program with a token
  collected_on bigint not null,
  back_on bigint,                   -- the day the next visit was received on which the same cause was confirmed
  gone_on bigint,                   -- of the instrument, if that was not before
  primary key (work_order, cause)
);
insert into repaired (work_order, instrument, cause, family, job, age_band, month, technician, collected_on, back_on, gone_on)
  -- Year and month from the days since 1970: whole 400 years of 146,097 days, each year begun in March.
  with main_job as (
    select o.id as work_order, o.instrument, f.cause, i.family, i.year_made, coalesce(s.job, '') as job,
      s.done_by as technician, o.received_on, o.received_at, o.collected_on,
      row_number() over (partition by o.id, f.cause
        order by case when s.finding is null then 1 else 0 end, s.actual_minutes desc, s.position, s.id) as place
    from finding f join work_order o on o.id = f.work_order join instrument i on i.id = o.instrument
      join repair_step s on s.work_order = o.id and s.done_at is not null and (s.finding is null or s.finding = f.id)
    where f.certainty = 'confirmed' and not f.withdrawn and o.stage = 'collected'
  ), of_era as (
    select m.*, (received_on + 719468) / 146097 as era,
      received_on + 719468 - (received_on + 719468) / 146097 * 146097 as doe from main_job m where place = 1
  ), of_year as (
    select e.*, (doe - doe / 1460 + doe / 36524 - doe / 146096) / 365 as yoe from of_era e
  ), of_day as (
    select y.*, (5 * (doe - (365 * yoe + yoe / 4 - yoe / 100)) + 2) / 153 as month_from_march from of_year y
  ), dated as (
    select d.*, yoe + era * 400 + case when month_from_march >= 10 then 1 else 0 end as year from of_day d
  )
  select work_order, instrument, cause, family, job,
    case when year_made is null or year_made > year then 'unknown' when year - year_made < 2 then 'under_2'
      when year - year_made < 20 then '2_to_19' when year - year_made < 80 then '20_to_79'
      when year - year_made < 100 then '80_to_99' else '100_plus' end,
    (month_from_march + 2) % 12, technician, collected_on,
    (select min(n.received_on) from finding g join work_order n on n.id = g.work_order
     where g.instrument = d.instrument and g.cause = d.cause and g.certainty = 'confirmed' and not g.withdrawn
     and n.received_at > d.received_at and n.received_on >= d.collected_on), null
  from dated d;
create index repaired_instrument on repaired (instrument, cause);
-- How many went home on each day, by whatever the report asks for.
create index repaired_cause on repaired (cause, collected_on);
create index repaired_job on repaired (job, collected_on);
create index repaired_age on repaired (age_band, collected_on);
create index repaired_month on repaired (month, collected_on);
create index repaired_technician on repaired (technician, collected_on);
-- Those whose watch ended before today are few.
create index repaired_ended on repaired (cause, job, age_band, month, technician, collected_on, back_on, gone_on)
  where back_on is not null or gone_on is not null;
