-- The files of the old book that were handed over, and what came of each. What stands in a file is never kept here.
create table book_file (
  id uuid primary key,
  by_name text not null,            -- who handed it over
  bytes bigint not null,
  mark text not null,               -- the SHA-256 of the file
  stage text not null,              -- trying, tried, writing, taken, broken or withdrawn
  under_way boolean not null,       -- trying or writing
  keep_good boolean not null,       -- what is right is to be taken even if other lines are not
  words text not null,              -- why it broke off
  fit bigint not null,              -- lines that are right
  there bigint not null,            -- lines that were brought in before
  twice bigint not null,            -- lines that say the same as an earlier one
  amiss bigint not null,            -- lines that are not right
  taken bigint not null,            -- visits that were stored
  customers bigint not null,        -- of those: new ones
  instruments bigint not null,
  version bigint not null,
  begun_at bigint not null,
  ended_at bigint                   -- when the trial or the writing was through
);
create unique index book_file_under_way on book_file (under_way) where under_way; -- one at a time
create index book_file_begun on book_file (begun_at);
