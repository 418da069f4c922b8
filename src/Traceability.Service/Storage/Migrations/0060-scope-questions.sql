-- Compatible: an older service does not look at the new table.
-- Questions for a scope that were saved under a name, to be asked again.
create table scope_question (
    name     text        primary key,
    title    text        not null,
    suspect  jsonb       not null,
    author   text        not null,   -- the name of the key that saved it
    saved_at timestamptz not null,
    version  integer     not null    -- counts how often it was saved
);
