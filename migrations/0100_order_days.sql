-- How long an order stood where, in days of the shop's zone, and what is still owed on it.
alter table work_order add column stage_on bigint;      -- the day it came to the stage it is in; null: not known of an order older than this column
alter table work_order add column days_first bigint;    -- until somebody first looked at it or planned something; each is null where it never stood there, or it is not known
alter table work_order add column days_answer bigint;   -- waiting for the customer's answer, all times together
alter table work_order add column days_bench bigint;    -- looked at, in repair, to be played
alter table work_order add column days_ready bigint;    -- ready, or going back unrepaired, until it was handed back
alter table work_order add column owed bigint not null default 0; -- since it was handed back; below zero the shop owes it
create index work_order_owed on work_order (collected_on, id, owed) where owed > 0;
-- What is known of those that are here already.
update work_order set stage_on = received_on, days_first = 0 where stage = 'received' and collected_at is null;
update work_order set days_first = inspected_on - received_on where inspected_on is not null;
update work_order set days_ready = collected_on - ready_on where collected_on is not null and ready_on is not null;
-- Beside what stands there already, tally_block counts from now on, and the program counts what was before when it next starts:
--   minutes   steps done, by "job planned actual": how often a job took so long that was planned so long
--   days      orders handed back, by "stage days"
--   owed      what is owed on orders handed back, as it came and went: "customers" or "shop"
--   cost      what a cause cost, by "cause kind"
--   parts     parts used on steps that were done, by name
create table older_shop (       -- a shop that was there before these counts
  id bigint primary key check (id = 1),
  since bigint,                     -- the day from which on all days by stage are known; null: not counted yet
  note text not null
);
insert into older_shop (id, since, note) select 1, null, 'work' where exists (select 1 from work_order);
create table owed_before (          -- empty but while that is counted
  work_order uuid primary key references work_order (id),
  owed bigint not null
);
