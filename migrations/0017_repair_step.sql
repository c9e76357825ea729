-- A job, or free text, planned and done on one order; its price is its planned minutes at the rate kept with it.
create table repair_step (
  id uuid primary key,
  work_order uuid not null references work_order (id),
  finding uuid references finding (id),
  job text references job (code),
  title text not null,
  planned_minutes bigint not null,
  actual_minutes bigint,
  rate bigint not null,             -- labour, minor units an hour, as it was that day
  tax bigint not null,              -- on labour, parts per million, as it was that day
  free boolean not null,            -- put right without charge
  position bigint not null,
  created_at bigint not null,
  done_at bigint,
  done_on bigint,
  done_by uuid references staff (id)
);
create index repair_step_order on repair_step (work_order, position);
create table part (
  id uuid primary key,
  step uuid not null references repair_step (id),
  name text not null,
  quantity bigint not null,
  unit_price bigint not null,
  tax bigint not null               -- on parts, parts per million, as it was that day
);
create index part_step on part (step);
