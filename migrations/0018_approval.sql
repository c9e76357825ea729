-- What the customer said to an estimate.
create table approval (
  id uuid primary key,
  work_order uuid not null references work_order (id),
  decision text not null check (decision in ('approved', 'declined')),
  said_by text not null,
  channel text not null check (channel in ('in_person', 'phone', 'email', 'online')),
  estimate bigint not null,         -- what they were told
  authorised_limit bigint,          -- the new limit, if they set one
  at bigint not null,
  staff uuid references staff (id)
);
create index approval_order on approval (work_order, at);
