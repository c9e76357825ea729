-- For the orders of one stage, newest first: those that wait are few among all that ever came.
create index work_order_stage on work_order (stage, received_at, id);
