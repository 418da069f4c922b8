-- Keys that may use the service. Only a hash is stored: the key is shown once, when it is made.
create table access_key (
    id         uuid        primary key,
    name       text        not null unique,
    role       text        not null,
    station    text,
    hash       bytea       not null unique,
    created_at timestamptz not null,
    revoked_at timestamptz
);
