-- Compatible: an older service runs on.
-- A minimum that depends on temperature: what the time of readiness assumes, and until when readings bear that out.
alter table open_interval add column assumption text, add column assumed_until timestamptz;

-- Over which times a unit's judgement looked at the temperatures of a place: a reading within one asks for the unit again.
create table cure_window (
    unit        text        not null,
    row_id      bigint      not null,
    place       text        not null,
    looked_from timestamptz not null,
    looked_to   timestamptz not null,
    primary key (unit, row_id)
);
create index cure_window_place on cure_window (place, looked_to);
