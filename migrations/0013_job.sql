-- Usual pieces of work with their usual minutes, for a violin; a cello or a bass takes a factor more.
create table job (
  code text primary key,
  name text not null,
  who text not null check (who in ('counter', 'bench_technician', 'senior_luthier')),
  minutes_low bigint not null,
  minutes_typical bigint not null,
  minutes_high bigint not null,
  wait_hours double precision not null,  -- glue or varnish; not labour
  factor_cello double precision not null,
  factor_bass double precision not null,
  materials text not null,          -- none, low, medium, high
  source text not null,
  edition bigint not null,
  changed boolean not null,
  retired boolean not null,
  version bigint not null
);
create table job_step (
  job text not null references job (code),
  position bigint not null,
  step text not null,
  minutes_typical bigint not null,
  wait_hours double precision not null,
  materials text not null,
  caution text not null,
  primary key (job, position)
);
