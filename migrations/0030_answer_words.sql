-- The words of an answer, by question; orders keep the code. The row with no answer is what the question is about, in short.
create table answer_words (
  descriptor text not null references descriptor (code),
  answer text not null,
  words text not null,
  changed boolean not null,         -- the shop's words; editions leave them alone
  primary key (descriptor, answer)
);
