-- Compatible: an older service runs on.
-- Rebuilds of the derived tables: who asked for them, how far they are, what came of them. Not derived from anything.
create table rebuild (
    id              bigint generated always as identity primary key,
    asked_by        text        not null,
    is_compare_only boolean     not null,
    started_at      timestamptz not null,
    ended_at        timestamptz,
    state           text        not null,       -- running, done, failed, interrupted
    phase           text        not null,
    units           bigint      not null default 0,
    facts           bigint      not null default 0,
    caught_up       bigint      not null default 0,
    comparison      jsonb,
    reason          text
);
