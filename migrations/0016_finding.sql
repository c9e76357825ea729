-- A cause that was confirmed, or is suspected, on one order.
create table finding (
  id uuid primary key,
  work_order uuid not null references work_order (id),
  instrument uuid not null references instrument (id),
  cause text not null references cause (code),
  certainty text not null check (certainty in ('confirmed', 'suspected')),
  place text not null,
  note text not null,
  comeback_of uuid references work_order (id), -- the visit in which the same cause was last repaired on this instrument
  comeback_days bigint,             -- days from that pickup to this intake
  withdrawn boolean not null,       -- it was a mistake; kept, not counted
  at bigint not null,
  found_on bigint not null,
  staff uuid references staff (id)
);
create index finding_order on finding (work_order, at);
create index finding_instrument on finding (instrument, cause, at);
