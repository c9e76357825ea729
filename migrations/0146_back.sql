-- Those that came back are few: another window looks at them alone.
create index finding_back on finding (comeback_days) where comeback_days is not null;
