-- Compatible: an older service runs on; units that it judges keep the rows below as they were until a newer one judges them.
create table nonconformance (
    unit        text        not null,
    row_id      bigint      not null,
    item        text        not null,
    id          text        not null,           -- within the unit: the record, and for a finding its kind and rule
    state       text        not null,
    is_open     boolean     not null,
    kind        text        not null,
    rule        text        not null,
    defect      text,
    step        text,
    attempt     integer     not null,
    record      uuid        not null,
    at          timestamptz not null,
    message     text        not null,
    disposition text,
    decision    text,
    decided_at  timestamptz,
    decided_by  text,
    concession  text,
    awaited     text,                           -- steps, separated by spaces
    ended_at    timestamptz,
    ended_by    text,
    primary key (unit, row_id)
);
create index nonconformance_at on nonconformance (at, unit);
create index nonconformance_open on nonconformance (at, unit) where is_open;
create index nonconformance_concession on nonconformance (concession) where concession is not null;

-- The concession under which a finding stands.
alter table finding add column concession text;

-- Units judged before there were nonconformances are judged again, in the background.
insert into rejudge (unit, asked_at) select distinct unit, now() from finding where is_defect on conflict do nothing;
