-- For which families a job is, joined by ;. What the shop made itself may be for any; of the program's own jobs a bow has
-- only its own. Set here too for those the shop changed, which no edition of the program touches.
alter table job add column families text not null default 'violin;viola;cello;bass;bow';
update job set families = 'violin;viola;cello;bass' where edition > 0 and code not in ('rehair', 'bow_service');
