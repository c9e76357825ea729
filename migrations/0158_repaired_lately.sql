-- The month draws how repairs of its leading causes held over two years: all that it reads of a repair stands in the index.
drop index repaired_cause;
create index repaired_cause on repaired (cause, collected_on, back_on, gone_on);
