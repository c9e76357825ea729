-- The people of the shop. Never deleted: what they did keeps their name.
create table staff (
  id uuid primary key,
  name text not null,
  name_key text not null unique,    -- folded, so that one person cannot be made twice by spelling
  password_hash text not null,      -- argon2id, PHC text
  counter boolean not null,         -- takes in and hands back
  bench boolean not null,           -- checks, finds, repairs
  owner boolean not null,           -- all of it, and reports, catalogue, staff, settings
  active boolean not null,
  version bigint not null,
  created_at bigint not null
);
