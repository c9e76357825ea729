-- Which orders were brought in from the shop's old book, and by what line of it, so that no line is brought in twice.
create table old_book (
  work_order uuid primary key references work_order (id),
  line uuid not null unique,        -- the first half of the SHA-256 of all that the line said
  brought_at bigint not null        -- the same for all that came in together
);
