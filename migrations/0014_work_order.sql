-- One visit of one instrument.
create table work_order (
  id uuid primary key,
  tag text not null unique,         -- a running number and its check digit
  customer uuid not null references customer (id),
  instrument uuid not null references instrument (id),
  stage text not null,
  words text not null,              -- the complaint, or the wish, as said
  answers text not null,            -- descriptor=answer joined by ;
  buzz_string text not null,        -- where it speaks, if it was noted
  buzz_note text not null,
  items_left text not null,         -- what stays here with it, a line each
  condition text not null,
  declared_value bigint,
  promised_on bigint,               -- days since 1970, like every *_on: days of the shop's zone
  authorised_limit bigint,          -- the shop may go ahead up to this, tax included
  estimate bigint not null,         -- of the steps as they stand, tax included
  approved_up_to bigint,            -- the estimate the customer last said yes to
  hold_until bigint,                -- waits until then, e.g. for glue; not a stage
  hold_why text not null,
  returned_why text check (returned_why in ('declined', 'nothing_found', 'beyond_repair')),
  received_at bigint not null,
  received_on bigint not null,
  received_by uuid references staff (id),      -- null: a program with a token
  inspected_on bigint,              -- the day of the first check or finding, or of "nothing found"
  ready_on bigint,
  collected_at bigint,              -- handed back, repaired or not
  collected_on bigint,
  collected_by text not null,       -- who took it
  version bigint not null
);
create index work_order_open on work_order (promised_on) where collected_at is null;
create index work_order_instrument on work_order (instrument, received_at);
create index work_order_customer on work_order (customer, received_at);
create index work_order_received on work_order (received_at, id);
create index work_order_collected on work_order (collected_on) where collected_on is not null;
-- The next running number; its own table, so that taking a number locks nothing else.
create table tag_counter (id bigint primary key check (id = 1), next bigint not null);
insert into tag_counter (id, next) values (1, 1000);
