-- By the bands in force, whichever rows hold them.
drop view tally;
create view tally as
  select month, family, age_band, code as cause, n as orders from month_tally
  where what = (select ages_in from counted where id = 1) and family in ('violin', 'viola', 'cello', 'bass')
    and age_band <> '';
