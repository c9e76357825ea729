-- What was repaired is told apart by the class of its size and by the kind of its account too.
alter table repaired add column size text not null default 'no_size';   -- the class, as it is known now: full, fractional, no_size
alter table repaired add column account text not null default 'person'; -- whose order it is, as it is known now
-- The classes are counted by the program when it opens the shop, with those of the tally.
update repaired set account = (select c.kind from work_order o join customer c on c.id = o.customer
  where o.id = repaired.work_order);
create index repaired_size on repaired (size, collected_on);
create index repaired_account on repaired (account, collected_on);
drop index repaired_ended;
create index repaired_ended on repaired (cause, job, age, size, account, month, technician, collected_on, back_on, gone_on)
  where back_on is not null or gone_on is not null;
