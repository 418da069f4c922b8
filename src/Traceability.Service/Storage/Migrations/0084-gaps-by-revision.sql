-- Compatible: an older service leaves the column empty, which reads as any revision, and goes on finding what it found before.
-- Which revision asks for a step that is not recorded at all; null: any.
alter table work_gap add column revision text;

-- What is missing in records is found under every revision that a unit was under, where the record is void that opened it, where it
-- was taken out of a place into which no record put it, and where a record can't be read. Such units are judged again, in the background.
insert into rejudge (unit, asked_at)
select distinct substr(e.stream_id, 6), now() from events.mt_events e
where starts_with(e.stream_id, 'unit/') and e.type in ('unit_moved_to_revision', 'record_voided', 'record_corrected', 'component_removed')
on conflict (unit) do nothing;
insert into rejudge (unit, asked_at) select unit, now() from unit where has_unreadable on conflict (unit) do nothing;
insert into rejudge (unit, asked_at) select distinct unit, now() from work_gap where reason = 'step-not-recorded' on conflict (unit) do nothing;
