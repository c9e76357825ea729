-- A look whether one cause is the one.
create table cause_check (
  id uuid primary key,
  work_order uuid not null references work_order (id),
  cause text not null references cause (code),
  result text not null check (result in ('found', 'not_found', 'unclear')),
  minutes bigint,
  note text not null,
  at bigint not null,
  staff uuid references staff (id)  -- null: a program with a token
);
create index cause_check_order on cause_check (work_order, at);
