-- What the shop's confirmed findings have taught the ranking: counts kept in the transaction of the act that teaches.
create table diagnosis (               -- one row
  id bigint primary key check (id = 1),
  follow text not null check (follow in ('shop', 'catalogue')),
  share_strength bigint not null,      -- so many orders the catalogue's shares count for, in a family
  cell_strength bigint not null,       -- the same in an age band or a season
  answer_strength bigint not null,     -- the same for the answers to one question
  lessons bigint not null,             -- raised by each lesson; taught_* rows carry the number of their last change
  catalogue bigint not null,           -- raised by each change of the catalogue or of the strengths
  tempered bigint not null,            -- lessons summed up in temper
  temper text not null,                -- log loss of these lessons for each power of the evidence, in millionths, joined by ;
  version bigint not null              -- of what the owner may set
);
insert into diagnosis (id, follow, share_strength, cell_strength, answer_strength, lessons, catalogue, tempered, temper, version)
values (1, 'shop', 100, 400, 30, 0, 0, 0, '', 1);

create table lesson (                  -- what one order has taught, so that it can be unlearned to the last count
  work_order uuid primary key references work_order (id),
  family text not null,
  age_band text not null,
  month bigint not null,               -- of the year, 0 for January
  causes text not null,                -- joined by ; 'none' where it was none of the catalogue's
  answers text not null                -- as they stood when it was confirmed
);
create table taught_share (            -- confirmed orders
  family text not null,
  cause text not null,                 -- '' for none of the catalogue's
  age_band text not null,
  month bigint not null,               -- of the year, 0 for January
  orders bigint not null,
  lesson bigint not null,
  primary key (family, cause, age_band, month)
);
create index taught_share_lesson on taught_share (lesson);
create table taught_answer (           -- answers given on confirmed orders
  cause text not null,
  descriptor text not null,
  answer text not null,
  orders bigint not null,
  lesson bigint not null,
  primary key (cause, descriptor, answer)
);
create index taught_answer_lesson on taught_answer (lesson);

create table first_answers (           -- of an order whose answers were added to after somebody had looked
  work_order uuid primary key references work_order (id),
  answers text not null
);
