-- Compatible: an older service leaves the column empty, which reads as no uncertainty, and goes on finding what it found before.
-- By how much either time may be wrong, by the clocks that told them; null: not at all.
alter table installation add column uncertainty interval;

-- Units into which something was put are judged again, in the background: most times have some uncertainty.
insert into rejudge (unit, asked_at) select distinct parent, now() from installation on conflict (unit) do nothing;
