-- Present only in an invented shop: what it was made from. Not whole means that filling it broke off.
create table demo (
  id bigint primary key check (id = 1),
  seed bigint not null,
  orders bigint not null,
  as_of bigint not null,            -- the day on which the invented history ends
  whole boolean not null
);
