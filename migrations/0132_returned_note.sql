-- What was noted when it was to go back unrepaired; where it is not worth the repair, the customer is told so.
alter table work_order add column returned_note text not null default '';
