-- Compatible: an older service runs on. It judges open times by the fixed maximum.
-- A maximum that is an open time: after when it may have been exceeded, and after when it surely was.
alter table open_interval add column may_be_overdue_at timestamptz, add column surely_overdue_at timestamptz;

-- Which batches name a batch that they were split off, or did: where to look, never the answer itself.
create table batch_naming (
    source text not null,
    batch  text not null,
    primary key (source, batch)
);
create index batch_naming_batch on batch_naming (batch);

-- Units that came out of batches are judged again: that more were taken out than there were parts is a finding of theirs now.
insert into rejudge (unit, asked_at) select distinct unit, now() from dependency where subject like 'batch/%' on conflict (unit) do nothing;
