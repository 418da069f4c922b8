-- Compatible: an older service runs on.
-- A moment that the service writes again and again while it reads from replicas: what a replica has of it tells how far it has come.
create table replica_beat (
    one boolean     primary key default true check (one),
    at  timestamptz not null
);
insert into replica_beat (at) values ('-infinity');
