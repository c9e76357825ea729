-- Figures that the shop gave itself: editions leave them alone.
alter table background add column own boolean not null default false;
create table likelihood_own (       -- of this cause the shop said itself what the answers to this question say
  cause text not null references cause (code),
  descriptor text not null references descriptor (code),
  version bigint not null,
  primary key (cause, descriptor)
);
