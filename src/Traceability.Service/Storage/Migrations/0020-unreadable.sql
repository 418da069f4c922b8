-- Compatible: an older service runs on.
-- Stored events that this version of the service can't read, as found by the check of stored events.
create table unreadable_event (
    seq_id   bigint      primary key,
    event_id uuid        not null,
    stream   text        not null,
    name     text        not null,
    reason   text        not null,
    found_at timestamptz not null default now()
);
create index unreadable_event_stream on unreadable_event (stream);

-- How far the check of stored events has come: the end that new events are read from, and the round through all of them.
create table event_check (
    one       boolean     primary key default true check (one),
    tail      bigint      not null,
    round     bigint      not null,
    round_end timestamptz                           -- when the last round ended; null while the first one runs
);
insert into event_check (tail, round) select coalesce(max(seq_id), 0), 0 from events.mt_events;

-- Which instance does a piece of work that one should do. A lease that is not renewed falls to another instance.
create table worker_lease (
    name   text        primary key,
    holder uuid        not null,
    until  timestamptz not null
);

-- A unit that can't be judged again is put off, longer each time, and is not lost.
alter table rejudge add column tries integer not null default 0, add column tried_at timestamptz, add column trouble text;
