-- Money taken for one order, a deposit before pickup or the rest at it.
create table payment (
  id uuid primary key,
  work_order uuid not null references work_order (id),
  amount bigint not null check (amount > 0),
  method text not null check (method in ('cash', 'card', 'transfer', 'account')),
  at bigint not null,
  paid_on bigint not null,
  staff uuid references staff (id)
);
create index payment_order on payment (work_order, at);
create index payment_day on payment (paid_on);
