-- Whom the ranking follows may be left to how well it guessed. What was found but still buzzed teaches nothing from now on; what
-- it taught before stays until its order is looked at again.
create table diagnosis_new (           -- one row
  id bigint primary key check (id = 1),
  follow text not null check (follow in ('better', 'shop', 'catalogue')),
  share_strength bigint not null,      -- so many orders the catalogue's shares count for, in a family
  cell_strength bigint not null,       -- the same in an age band or a season
  answer_strength bigint not null,     -- the same for the answers to one question
  lessons bigint not null,             -- raised by each lesson; taught_* rows carry the number of their last change
  catalogue bigint not null,           -- raised by each change of the catalogue or of the strengths
  tempered bigint not null,            -- lessons summed up in temper
  temper text not null,                -- log loss of these lessons for each power of the evidence, in millionths, joined by ;
  behind bigint not null,              -- log loss of the shop's ranking less that of the catalogue's, in millionths
  version bigint not null              -- of what the owner may set
);
insert into diagnosis_new (id, follow, share_strength, cell_strength, answer_strength, lessons, catalogue, tempered, temper, behind, version)
  select id, case when follow = 'shop' then 'better' else follow end, share_strength, cell_strength, answer_strength, lessons,
    catalogue, tempered, temper,
    coalesce((select cast(sum(case when ranking = 'shop' then amount else -amount end) as bigint) from score_tally
      where what = 'log_loss' and ranking in ('shop', 'catalogue')), 0),
    version
  from diagnosis;
drop table diagnosis;
alter table diagnosis_new rename to diagnosis;
