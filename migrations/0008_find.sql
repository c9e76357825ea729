-- Where people and instruments are found while typing: one row a word (folded), and one for each end of
-- a phone number, so that any run of its digits is the beginning of a row. Searched by range.
create table find (
  key text not null,
  customer uuid not null references customer (id),
  instrument uuid references instrument (id)  -- when the word is of the instrument
);
