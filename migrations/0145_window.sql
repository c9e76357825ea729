-- By which comeback window the comebacks are counted, and by which they are to be counted anew.
-- In days, in force.
alter table counted add column comeback_window bigint not null default 90;
update counted set comeback_window = coalesce((select comeback_days from shop where id = 1), 90);
-- The window to come; null: none.
alter table counted add column next_window bigint;
