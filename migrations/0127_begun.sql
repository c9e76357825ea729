-- The strengths of learning are measured anew. What was summed up of a ranking that learned by other strengths says nothing of
-- the one in use, here and whenever the owner sets another pace: the sums begin anew, the score of each order stays.
alter table scored add column lesson bigint not null default 0;    -- the number of the lesson by which it was scored
alter table diagnosis add column begun bigint not null default 0;  -- what was scored up to this lesson is not summed up
update diagnosis set share_strength = 3 * share_strength, cell_strength = 4 * cell_strength, begun = lessons, tempered = 0,
  temper = '', behind = 0, catalogue = catalogue + 1
where share_strength = 100 and cell_strength = 400 and answer_strength = 30;
update diagnosis set share_strength = 900, cell_strength = 4800, begun = lessons, tempered = 0, temper = '', behind = 0,
  catalogue = catalogue + 1
where share_strength = 300 and cell_strength = 1200 and answer_strength = 90;
update diagnosis set share_strength = 100, cell_strength = 533, begun = lessons, tempered = 0, temper = '', behind = 0,
  catalogue = catalogue + 1
where share_strength = 33 and cell_strength = 133 and answer_strength = 10;
