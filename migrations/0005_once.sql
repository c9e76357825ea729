-- What was answered to an act that carried a key, so that a second sending gets the first answer.
create table once (
  actor uuid not null,              -- staff or token: everyone has keys of their own
  key text not null,
  fingerprint text not null,        -- SHA-256 of what was asked; the same key for something else is refused
  status bigint not null,
  answer text not null,
  at bigint not null,
  primary key (actor, key)
);
create index once_at on once (at);
