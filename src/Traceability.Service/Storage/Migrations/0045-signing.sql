-- Compatible: an older service runs on.
-- Secrets with which people sign. Only a salted hash is stored; wrong attempts are counted before they are looked at.
create table signing_secret (
    person     text        primary key,
    salt       bytea       not null,
    hash       bytea       not null,
    iterations integer     not null check (iterations > 0),
    set_at     timestamptz not null,
    set_by     text        not null,                        -- name of the key that set it
    failures   integer     not null default 0,              -- in a row
    failed_at  timestamptz
);
