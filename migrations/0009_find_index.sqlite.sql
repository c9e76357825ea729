create index find_key on find (key, customer, instrument);
create index find_customer on find (customer);
