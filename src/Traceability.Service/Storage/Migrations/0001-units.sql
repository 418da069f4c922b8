-- Everything here but receipts, keys and the two queues is derived from the events and can be rebuilt from them.
-- Rows of a unit carry row_id, a hash of the row's content, so that a new judgement replaces exactly the rows that changed.

-- One row for each fact that was accepted: makes a repeated post an answer instead of a second fact. Kept for ever.
create table receipt (
    fact_id      uuid        primary key,
    content_hash bytea       not null,
    stream       text        not null,
    version      integer     not null,
    recorded_at  timestamptz not null,
    answer       jsonb                          -- the findings of the first answer; null for none
);

create table unit (
    unit              text        primary key,  -- item/serial
    item              text        not null,
    serial            text        not null,
    variant           text,
    lot               text,
    revision          text,
    opened_at         timestamptz,
    place             text        not null,
    step              text,
    since             timestamptz,
    consignee         text,
    ended_at          timestamptz,
    has_unreadable    boolean     not null,
    version           integer     not null,
    judgement         bigint      not null      -- counts the judgements stored: a writer that saw an older one tries again
) with (fillfactor = 80);
create index unit_item_place on unit (item, place);
create index unit_item_serial on unit (item, serial collate "C");
create index unit_unreadable on unit (unit) where has_unreadable;

create table step_result (
    unit          text        not null,
    row_id        bigint      not null,
    item          text        not null,
    variant       text        not null,         -- '' for none, here and below where a counter's key needs it
    revision      text        not null,
    step          text        not null,
    attempt       integer     not null,
    record        uuid        not null,
    started_at    timestamptz,
    completed_at  timestamptz not null,
    day           date        not null,
    station       text        not null,
    person        text        not null,
    is_rework     boolean     not null,
    passed        boolean     not null,
    defects       integer     not null,
    opportunities integer     not null,
    primary key (unit, row_id)
);

create table unit_result (
    unit        text    not null,
    row_id      bigint  not null,
    item        text    not null,
    variant     text    not null,
    revision    text    not null,
    day         date    not null,
    is_scrapped boolean not null,
    passed      boolean not null,
    primary key (unit, row_id)
);

create table finding (
    unit         text        not null,
    row_id       bigint      not null,
    item         text        not null,
    kind         text        not null,
    rule         text        not null,
    step         text        not null,
    attempt      integer     not null,
    record       uuid        not null,
    at           timestamptz not null,
    stops        boolean     not null,
    is_defect    boolean     not null,
    message      text        not null,
    evidence     jsonb       not null,
    primary key (unit, row_id)
);
create index finding_at on finding (at, unit);
create index finding_kind_at on finding (kind, at);

create table open_interval (
    unit        text        not null,
    row_id      bigint      not null,
    item        text        not null,
    rule        text        not null,
    name        text        not null,
    from_step   text        not null,
    to_step     text        not null,
    started_at  timestamptz not null,
    uncertainty interval    not null,
    ready_at    timestamptz,
    overdue_at  timestamptz,
    stops       boolean     not null,
    is_defect   boolean     not null,
    primary key (unit, row_id)
);
create index open_interval_overdue on open_interval (overdue_at);
create index open_interval_ready on open_interval (ready_at);

create table material_usage (
    unit        text        not null,
    row_id      bigint      not null,
    item        text        not null,
    lot         text        not null,
    container   text,
    is_one_of   boolean     not null,
    step        text,
    record      uuid        not null,
    requirement text,
    used_from   timestamptz not null,
    used_to     timestamptz not null,
    station     text,
    primary key (unit, row_id)
);
create index material_usage_lot on material_usage (item, lot);
create index material_usage_time on material_usage (item, used_from);

create table trace_gap (
    unit        text        not null,
    row_id      bigint      not null,
    item        text        not null,           -- one row for each item that would be accepted
    kind        text        not null,
    reason      text        not null,
    lot         text,
    step        text        not null,
    record      uuid        not null,
    requirement text        not null,
    used_from   timestamptz not null,
    used_to     timestamptz,
    station     text,
    primary key (unit, row_id)
);
create index trace_gap_item on trace_gap (item, kind, used_from);

create table installation (
    parent         text        not null,
    row_id         bigint      not null,
    component      text        not null,
    position       text        not null,
    step           text,
    record         uuid        not null,
    installed_from timestamptz not null,
    installed_to   timestamptz,
    primary key (parent, row_id)
);
create index installation_component on installation (component, installed_from);

-- Which other streams a unit's judgement looks at (lots, tools, people, component units).
create table dependency (
    subject text not null,
    unit    text not null,
    primary key (subject, unit)
);
create index dependency_unit on dependency (unit);

-- Units to judge again because something that they look at has changed.
create table rejudge (
    unit     text        primary key,
    asked_at timestamptz not null
);

-- Streams other than units, and when each changed last; seq orders the changes.
create table reference_stream (
    stream text   primary key,
    kind   text   not null,
    seq    bigint not null
);
create index reference_stream_seq on reference_stream (seq);
create index reference_stream_kind on reference_stream (kind, stream);
create table reference_clock (
    one boolean primary key default true check (one),
    seq bigint  not null
);
insert into reference_clock (seq) values (0);

-- Differences of yield counters, written with the rows that they come from and folded into the day tables in the background.
create table step_yield_change (
    id             bigint generated always as identity primary key,
    item           text    not null,
    variant        text    not null,
    revision       text    not null,
    step           text    not null,
    station        text    not null,
    day            date    not null,
    first_attempts integer not null,
    first_passed   integer not null,
    attempts       integer not null,
    reworks        integer not null,
    retests        integer not null,
    defects        integer not null,
    opportunities  integer not null
);
create table step_yield_day (
    item           text   not null,
    variant        text   not null,
    revision       text   not null,
    step           text   not null,
    station        text   not null,
    day            date   not null,
    first_attempts bigint not null,
    first_passed   bigint not null,
    attempts       bigint not null,
    reworks        bigint not null,
    retests        bigint not null,
    defects        bigint not null,
    opportunities  bigint not null,
    primary key (item, day, step, station, variant, revision)
) with (fillfactor = 80);
create table unit_yield_change (
    id       bigint generated always as identity primary key,
    item     text    not null,
    variant  text    not null,
    revision text    not null,
    day      date    not null,
    ended    integer not null,
    passed   integer not null,
    scrapped integer not null
);
create table unit_yield_day (
    item     text   not null,
    variant  text   not null,
    revision text   not null,
    day      date   not null,
    ended    bigint not null,
    passed   bigint not null,
    scrapped bigint not null,
    primary key (item, day, variant, revision)
) with (fillfactor = 80);
