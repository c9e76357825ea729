-- Each word of a search is asked of one customer after the other: by customer, then by word.
create index find_of on find (customer, key, instrument);
drop index find_customer;
-- An instrument is found by its family as well, also those that were taken in before.
insert into find (key, customer, instrument)
select i.family, i.customer, i.id from instrument i
where not exists (select 1 from find f where f.customer = i.customer and f.key = i.family and f.instrument = i.id);
