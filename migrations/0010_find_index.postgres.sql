-- Bytes, not the language of the server, so that ranges mean the same as in SQLite.
alter table find alter column key type text collate "C";
create index find_key on find (key, customer, instrument);
create index find_customer on find (customer);
