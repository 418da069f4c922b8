-- Incompatible: an older service would leave the rows of the new tables as they were when it judges a unit again.
-- What was measured and checked: one row for each value and check of each attempt that counts.
create table measurement (
    unit           text             not null,
    row_id         bigint           not null,
    item           text             not null,
    step           text             not null,
    attempt        integer          not null,
    record         uuid             not null,
    characteristic text             not null,
    value          text,                        -- as entered: the number, a space, the UCUM code; null for a check
    magnitude      double precision,            -- in the coherent SI unit of the dimension; null for a check and an unknown unit
    dimension      text,                        -- such as 'L2.M.T-2'; '1' for a plain number
    uncertainty    double precision,            -- expanded, coverage factor 2, in the same unit; null: none is stated
    passed         boolean,                     -- null: not judged, or not shown either way
    used_from      timestamptz      not null,
    used_to        timestamptz      not null,
    station        text,
    primary key (unit, row_id)
);
create index measurement_value on measurement (characteristic, dimension, magnitude);
create index measurement_not_passed on measurement (characteristic, unit) where passed is not true;

-- Intervals that have ended.
create table interval_result (
    unit        text        not null,
    row_id      bigint      not null,
    item        text        not null,
    rule        text        not null,
    from_step   text        not null,
    to_step     text        not null,
    from_record uuid,                           -- null: its start is not recorded
    to_record   uuid        not null,
    least       interval,                       -- how long it was at least, whichever way the clocks were off; null: nothing tells
    most        interval,
    verdict     text        not null,
    at          timestamptz not null,           -- when it ended
    station     text,
    primary key (unit, row_id)
);
create index interval_result_least on interval_result (rule, least);
create index interval_result_most on interval_result (rule, most);

-- Work that should be recorded and isn't. Steps are found by time, tools by their class, the rest by what is required.
create table work_gap (
    unit        text        not null,
    row_id      bigint      not null,
    item        text        not null,
    kind        text        not null,
    reason      text        not null,
    step        text        not null,
    requirement text,                           -- the tool requirement, the characteristic or the interval rule; null for a step
    tool_class  text,
    record      uuid        not null,           -- all zeros: none
    used_from   timestamptz not null,
    used_to     timestamptz,                    -- null: until now
    station     text,                           -- null: any
    person      text,                           -- null: anyone
    stations    text,                           -- those of the routing, separated by spaces; null: any
    primary key (unit, row_id)
);
create index work_gap_time on work_gap (kind, used_from);
create index work_gap_tool on work_gap (tool_class, used_from) where tool_class is not null;
create index work_gap_requirement on work_gap (kind, requirement, used_from);

-- When the work can have been done. Rows from before may be of any time until their units are judged again.
alter table step_result add column earliest timestamptz not null default '-infinity';
alter table step_result add column latest timestamptz not null default 'infinity';
create index step_result_station on step_result (station, completed_at);
drop index step_result_person;
create index step_result_person on step_result (person, completed_at);
create index step_result_revision on step_result (item, revision, completed_at);
create index step_result_completed on step_result using brin (completed_at);

-- Work of a time is found by when it was completed, less and plus a day; what may have taken longer, by these.
create index step_result_long on step_result (latest) where (latest at time zone 'UTC') > (earliest at time zone 'UTC') + interval '1 day';
create index tool_usage_long on tool_usage (tool) where (used_to at time zone 'UTC') > (used_from at time zone 'UTC') + interval '1 day';

-- The units that were stored before get their rows when they are judged again, in the background.
insert into rejudge (unit, asked_at) select unit, now() from unit on conflict (unit) do nothing;
