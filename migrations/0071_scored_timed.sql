-- Of the looks until it was found, how many had their minutes written down; the others count with their usual ones.
alter table scored add column timed bigint not null default 0;
update scored set timed = (
  select count(*) from cause_check k
  where k.work_order = scored.work_order and k.minutes is not null
  and k.at <= (select min(f.at) from finding f where f.work_order = scored.work_order and f.cause = scored.cause
               and f.certainty = 'confirmed' and not f.withdrawn)
  and not exists (select 1 from cause_check e where e.work_order = scored.work_order and e.cause = scored.cause
                  and e.result = 'found' and e.at < k.at)
);
insert into score_tally (month, ranking, what, at, orders, hits, amount)
select month, 'bench', 'timed', 0, cast(sum(checks) as bigint), cast(sum(timed) as bigint), 0 from scored group by month;
