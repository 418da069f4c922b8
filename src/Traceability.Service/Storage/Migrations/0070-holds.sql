-- Incompatible: an older service takes the lifting of one hold for the lifting of all, and leaves unit.holds as it was.
-- The holds that stand on a unit, by name, with spaces between; * for one without a name.
alter table unit add column holds text;

-- Units that were held get theirs when they are judged again, in the background.
insert into rejudge (unit, asked_at)
select distinct substr(stream_id, length('unit/') + 1), now() from events.mt_events where type in ('unit_held', 'unit_hold_lifted')
on conflict (unit) do nothing;
