-- Incompatible: of steps that an older service records, nobody would know who watched over them.
-- A unit is found by who watched over its steps, too, so that it is judged again when something changes in that person's qualifications.
insert into dependency (subject, unit)
select distinct 'person/' || s.supervisor, substr(e.stream_id, 6)
from events.mt_events e cross join lateral (values (e.data ->> 'supervisor'), (e.data -> 'replacement' ->> 'supervisor')) s (supervisor)
where starts_with(e.stream_id, 'unit/') and s.supervisor is not null
on conflict do nothing;

-- Whatever changed in the meantime and was not asked for is judged now.
insert into rejudge (unit, asked_at) select distinct unit, now() from dependency where starts_with(subject, 'person/') on conflict do nothing;
insert into rejudge (unit, asked_at) select distinct unit, now() from finding where kind in ('defect-reported', 'defect-unknown') on conflict do nothing;
