-- The story of an order: a line for each act, in words.
create table story (
  id uuid primary key,              -- in the order of time
  work_order uuid not null references work_order (id),
  at bigint not null,
  by_name text not null,            -- of the person or the program
  words text not null
);
create index story_order on story (work_order, id);
