-- Compatible: an older service leaves the column empty, which reads as no uncertainty, and goes on finding what it found before.
-- By how much either time may be wrong, by the clocks that told them; null: not at all.
alter table installation add column uncertainty interval;

-- Units into which something was put, or out of which it was taken, by a clock in doubt are judged again, in the background.
insert into rejudge (unit, asked_at)
select distinct i.parent, now() from installation i
where exists (
    select from events.mt_events e
    where e.stream_id = 'unit/' || i.parent and e.data -> 'clock' is not null)
on conflict (unit) do nothing;
