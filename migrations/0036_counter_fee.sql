-- What a fix at the counter costs, before tax, in minor units; often nothing.
alter table shop add column counter_fee bigint not null default 0;
