-- The plain questions that may be asked of a complaint, and what the answers say of each cause.
create table descriptor (
  code text primary key,
  question text not null,
  choices text not null,            -- joined by ;
  asked_of text not null check (asked_of in ('customer', 'counter', 'bench')),
  minutes double precision not null,
  hint text not null,
  edition bigint not null,
  changed boolean not null,
  retired boolean not null,
  version bigint not null
);
create table background (           -- P(answer) when the cause is any other
  descriptor text not null references descriptor (code),
  answer text not null,
  p double precision not null,
  primary key (descriptor, answer)
);
create table likelihood (           -- P(answer | cause) where it differs from the background
  cause text not null references cause (code),
  descriptor text not null references descriptor (code),
  answer text not null,
  p double precision not null,
  primary key (cause, descriptor, answer)
);
