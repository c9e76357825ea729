-- By which bands of age the orders are counted, and by which they are being counted anew.
-- From so many years on each band, in force.
alter table counted add column age_bounds text not null default '2 20 80 100';
-- The `what` under which the orders stand by these.
alter table counted add column ages_in text not null default 'orders';
-- The bounds to come; null: none.
alter table counted add column next_bounds text;
-- Up to this month all is counted by those; null: not begun.
alter table counted add column next_done bigint;
-- What was put right without charge is counted of comebacks alone: where it is not yet, the program does it when it opens the shop.
alter table counted add column free_of_comebacks boolean not null default false;
-- The tally by the bands in force, whichever rows hold them.
drop view tally;
create view tally as
  select month, family, age_band, code as cause, n as orders from month_tally
  where what = (select ages_in from counted where id = 1) and family in ('violin', 'viola', 'cello', 'bass')
    and age_band <> '';
