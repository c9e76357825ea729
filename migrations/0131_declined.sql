-- A step that the customer did not want stays on the order, not done, and is in no sum.
alter table repair_step add column declined_at bigint;   -- until the order is taken up again
-- What is known of those that are here already: planned before the customer's last word, which was a no.
update repair_step set declined_at = (select max(a.at) from approval a where a.work_order = repair_step.work_order)
where done_at is null and exists (select 1 from approval a where a.work_order = repair_step.work_order and a.decision = 'declined'
  and a.at >= repair_step.created_at and not exists (select 1 from approval b where b.work_order = a.work_order and b.at > a.at))
and exists (select 1 from work_order o where o.id = repair_step.work_order
  and o.stage in ('inspecting', 'play_test', 'ready', 'collected', 'returned'));
