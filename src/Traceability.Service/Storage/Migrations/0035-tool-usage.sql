-- Incompatible: an older service would leave the rows of tool_usage as they were when it judges a unit again.
-- Which tools the records of a unit name: one row for each tool of each attempt that counts.
create table tool_usage (
    unit        text        not null,
    row_id      bigint      not null,
    tool        text        not null,
    setting     text,
    requirement text,
    step        text        not null,
    attempt     integer     not null,
    record      uuid        not null,
    at          timestamptz not null,           -- when the step was completed: the time that the tool is judged at
    used_from   timestamptz not null,
    used_to     timestamptz not null,
    station     text,
    primary key (unit, row_id)
);
create index tool_usage_tool on tool_usage (tool, at, unit, row_id);

-- The units that were stored before get their rows when they are judged again, in the background.
insert into rejudge (unit, asked_at) select distinct unit, now() from dependency where starts_with(subject, 'tool/') on conflict (unit) do nothing;
