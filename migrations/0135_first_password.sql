-- Whether somebody still has the password that another person chose for them: then they choose their own before anything else.
alter table staff add column first_password boolean not null default false;
