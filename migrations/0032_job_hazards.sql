-- Which cautions hold for a job, joined by ;. Null: those that came with the program.
alter table job add column hazards text;
