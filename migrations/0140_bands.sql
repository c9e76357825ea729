-- By which bands of age the orders are counted, and by which they are being counted anew.
-- From so many years on each band, in force.
alter table counted add column age_bounds text not null default '2 20 80 100';
-- The `what` under which the orders stand by these.
alter table counted add column ages_in text not null default 'orders';
-- The bounds to come; null: none.
alter table counted add column next_bounds text;
-- Up to this month all is counted by those; null: not begun.
alter table counted add column next_done bigint;
