-- The reports read counts over a span of months: all they need stands in the index itself.
create index tally_read on tally (month, cause, age_band, family, orders);
