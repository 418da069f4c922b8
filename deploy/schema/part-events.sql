-- Parts the table of events by sequence number, while the service runs. Apply it with:
-- psql --set ON_ERROR_STOP=1 --file THIS-FILE        (not in one transaction: it commits between its steps)
--
-- The first time, the table as it is becomes the first part, and what is numbered from a bound onwards goes to a new one. Each
-- further time, the newest part ends at a bound and another begins. No row is copied and no index built. The bound is 10 to 20
-- million numbers ahead, so that the check of the old rows, which takes its time on a large table and holds up nobody, is done
-- long before it is reached. Locks that hold up writers are held for milliseconds, and given up when they can't be had within
-- 2 seconds: then run it again.
--
-- Each part holds (stream_id, version) unique by itself. Over the parts together this rests on what every append does anyhow: it
-- moves the version in events.mt_streams from the one that it was planned on, or fails.
-- Privileges that were granted on events.mt_events to other roles are to be granted again.
do $$
declare
    is_first boolean := (select relkind = 'r' from pg_class where oid = 'events.mt_events'::regclass);
    part     text;
    first_number    text := 'minvalue';
    bound    bigint;
    next_part     text;
begin
    if is_first then
        part := 'mt_events';
    else
        select c.relname, substring(pg_get_expr(c.relpartbound, c.oid) from 'FROM \(''?([0-9]+)''?\)') into strict part, first_number
        from pg_inherits i join pg_class c on c.oid = i.inhrelid
        where i.inhparent = 'events.mt_events'::regclass and pg_get_expr(c.relpartbound, c.oid) like '%TO (MAXVALUE)';
    end if;

    bound := ((select last_value from events.mt_events_sequence) / 10000000 + 2) * 10000000;
    if not is_first and first_number::bigint >= bound - 10000000 then
        raise exception 'The newest part begins at %, which is still ahead or was reached just now.', first_number;
    end if;

    next_part := 'mt_events_from_' || bound;
    perform set_config('lock_timeout', '2s', true);
    execute format('alter table events.%I drop constraint if exists mt_events_below', part);
    execute format('alter table events.%I add constraint mt_events_below check (seq_id < %s) not valid', part, bound);
    commit;
    execute format('alter table events.%I validate constraint mt_events_below', part);
    commit;

    perform set_config('lock_timeout', '2s', true);
    lock table events.mt_events in access exclusive mode;
    if is_first then
        part := 'mt_events_first';
        alter table events.mt_events rename to mt_events_first;
        alter index events.pkey_mt_events_seq_id rename to mt_events_first_pkey;
        create table events.mt_events (like events.mt_events_first including defaults including storage) partition by range (seq_id);
        alter table events.mt_events add constraint pkey_mt_events_seq_id primary key (seq_id);
        alter sequence events.mt_events_sequence owned by events.mt_events.seq_id;
    else
        execute format('alter table events.mt_events detach partition events.%I', part);
    end if;

    execute format('alter table events.mt_events attach partition events.%I for values from (%s) to (%s)', part, first_number, bound);
    execute format('alter table events.%I drop constraint mt_events_below', part);
    execute format('create table events.%I partition of events.mt_events for values from (%s) to (maxvalue)', next_part, bound);
    execute format('create unique index on events.%I (stream_id, version)', next_part);
end
$$;
