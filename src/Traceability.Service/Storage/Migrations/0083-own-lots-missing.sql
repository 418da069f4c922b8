-- Compatible: an older service looks for the other kinds of gaps, and goes on finding what it found before.
-- The lot that a unit itself came in is missing at no step.
alter table trace_gap alter column step drop not null, alter column requirement drop not null;

-- Units that hold a component of which nothing is recorded: every answer about a suspect tells how many there are.
create index trace_gap_unknown on trace_gap (unit) where kind = 'own-lot' and requirement is not null;

-- Judged again, in the background: units that may have been bought and name no lot of their own, and those into which something was put
-- of which nothing else is recorded.
insert into rejudge (unit, asked_at)
select unit, now() from unit u
where not exists (select from material_usage m where m.unit = u.unit and m.step is null)
    and not exists (select from step_result s where s.unit = u.unit)
union
select parent, now() from installation i where not exists (select from unit u where u.unit = i.component)
on conflict (unit) do nothing;
