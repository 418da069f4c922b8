-- Compatible: an older service looks for the other kinds of gaps, and goes on finding what it found before.
-- The lot that a unit itself came in is missing at no step.
alter table trace_gap alter column step drop not null, alter column requirement drop not null;

-- Units that may have been bought and name no lot of their own are judged again, in the background.
insert into rejudge (unit, asked_at)
select unit, now() from unit u
where not exists (select from material_usage m where m.unit = u.unit and m.step is null)
    and not exists (select from step_result s where s.unit = u.unit)
on conflict (unit) do nothing;
