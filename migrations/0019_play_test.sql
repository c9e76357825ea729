-- The instrument played again at the pitch that buzzed.
create table play_test (
  id uuid primary key,
  work_order uuid not null references work_order (id),
  result text not null check (result in ('quiet', 'still_buzzes', 'changed')),
  note text not null,
  at bigint not null,
  staff uuid references staff (id)
);
create index play_test_order on play_test (work_order, at);
