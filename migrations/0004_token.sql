-- A key for a program that uses the API; it has one role.
create table token (
  id uuid primary key,
  name text not null,
  role text not null check (role in ('counter', 'bench', 'owner')),
  token_hash text not null unique,  -- SHA-256; the token itself is shown once
  expires_at bigint,
  revoked_at bigint,
  created_at bigint not null
);
