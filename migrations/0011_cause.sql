-- The catalogue's causes. Those that came with the program follow its editions until the shop changes them.
create table cause (
  code text primary key,
  name text not null,
  region text not null,
  families text not null,           -- joined by ;
  how_it_sounds text not null,
  prior_share double precision not null,
  look text not null,               -- how to check for it
  check_minutes bigint not null,
  check_place text not null check (check_place in ('counter', 'bench')),
  needs_luthier boolean not null,
  remedy text not null,
  remedy_jobs text not null,        -- jobs needed together, joined by +
  alternate_jobs text not null,     -- other ways, joined by ;
  parts text not null,
  caution text not null,
  season_tie text not null check (season_tie in ('none', 'dry', 'humid', 'change')),
  age_tie text not null check (age_tie in ('any', 'new', 'student', 'old')),
  structural boolean not null,
  source text not null,
  edition bigint not null,          -- of the program's catalogue; 0 is the shop's own
  changed boolean not null,         -- the shop's wording; editions leave it alone
  retired boolean not null,
  version bigint not null
);
