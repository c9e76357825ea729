-- How often a check misses the cause though it is there, in a hundred; null: as usual for where it is looked for.
alter table cause add column check_misses bigint check (check_misses between 1 and 90);
