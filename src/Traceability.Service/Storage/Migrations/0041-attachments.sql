-- Compatible: an older service runs on.
-- Photos and files, each once, by the SHA-256 of its content. Never changed and never deleted: facts name them.
create table attachment (
    hash       text        primary key,
    media_type text        not null,
    bytes      integer     not null,
    content    bytea       not null,
    stored_at  timestamptz not null,
    stored_by  text        not null
);

-- Photos and documents are compressed already.
alter table attachment alter column content set storage external;
