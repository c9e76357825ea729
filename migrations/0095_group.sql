-- Inspected and confirmed are counted by the class of the size and by the kind of the account too: in the rows of the
-- years by age, where the family stands. They are counted from the history when the program opens a shop that has none.
-- By which definition of the groups they are counted; 0: not yet.
alter table counted add column groups_as bigint not null default 0;
drop view tally;
create view tally as
  select month, family, age_band, code as cause, n as orders from month_tally
  where what = 'orders' and family in ('violin', 'viola', 'cello', 'bass') and age_band <> '';
