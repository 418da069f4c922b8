-- Incompatible: an older service can't read the new facts about containments, and would not write their rows.
-- One row a case, folded from its stream in the transaction that stores its facts.
create table containment (
    id               text        primary key,
    title            text        not null,
    state            text        not null,          -- open or closed
    question         text        not null,          -- the suspect as JSON
    question_words   text        not null,
    holds_late       boolean     not null,
    opened_at        timestamptz not null,
    opened_by        text,                          -- the person
    closed_at        timestamptz,
    runs             integer     not null,
    scoped_at        timestamptz,                   -- the moment of the last run that was recorded
    members          integer     not null,
    members_open     integer     not null,          -- without a final outcome
    late_open        integer     not null,          -- came late, and nobody has taken note
    late_since       timestamptz,                   -- the first of them
    has_unreadable   boolean     not null,
    version          integer     not null,

    -- Not folded: how far the background work has looked.
    watched_seq      bigint      not null default 0,
    watched_at       timestamptz not null default '-infinity'
);
create index containment_opened on containment (opened_at desc, id desc);
create index containment_late on containment (id) where late_open > 0;

create table containment_member (
    containment       text        not null,
    unit              text        not null,         -- item/serial
    verdict           text,                         -- null: the last run did not reach it
    place_found       text        not null,
    found_at          timestamptz not null,
    found_by          uuid        not null,
    run               integer     not null,
    is_acknowledged   boolean     not null,
    why               text,
    evidence          uuid,
    held_at           timestamptz,
    lifted_at         timestamptz,
    followed_up_at    timestamptz,                  -- the first follow-up
    outcome           text,
    is_final          boolean     not null,
    outcome_at        timestamptz,
    outcome_by        text,
    outcome_record    uuid,
    outcome_note      text,
    outcome_evidence  uuid[]      not null,
    primary key (containment, unit)
);

-- The few units that are held, to find those that a case holds.
create index unit_held on unit (unit) where holds is not null;
