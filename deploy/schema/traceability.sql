-- For the database of the traceability service. Apply it with:
-- psql --single-transaction --set ON_ERROR_STOP=1 --file THIS-FILE

-- The event store's tables.
DO $$
BEGIN      IF NOT EXISTS (SELECT 1 FROM pg_catalog.pg_namespace WHERE nspname = 'events') THEN
        BEGIN
          EXECUTE 'CREATE SCHEMA IF NOT EXISTS events';
        EXCEPTION
          WHEN duplicate_schema THEN NULL;
          WHEN unique_violation THEN NULL;
        END;
      END IF;

END
$$;


CREATE
OR REPLACE FUNCTION events.mt_immutable_timestamp(value text) RETURNS timestamp without time zone LANGUAGE sql IMMUTABLE AS
$function$
select value::timestamp

$function$;


CREATE
OR REPLACE FUNCTION events.mt_immutable_timestamptz(value text) RETURNS timestamp with time zone LANGUAGE sql IMMUTABLE AS
$function$
select value::timestamptz

$function$;


CREATE
OR REPLACE FUNCTION events.mt_immutable_time(value text) RETURNS time without time zone LANGUAGE sql IMMUTABLE AS
$function$
select value::time

$function$;


CREATE
OR REPLACE FUNCTION events.mt_immutable_date(value text) RETURNS date LANGUAGE sql IMMUTABLE AS
$function$
select value::date

$function$;


CREATE
OR REPLACE FUNCTION events.mt_grams_vector(text, use_unaccent boolean DEFAULT false)
        RETURNS tsvector
        LANGUAGE plpgsql
        IMMUTABLE STRICT
AS $function$
BEGIN
RETURN (SELECT array_to_string(events.mt_grams_array($1, use_unaccent), ' ') ::tsvector);
END
$function$;


CREATE
OR REPLACE FUNCTION events.mt_grams_query(text, use_unaccent boolean DEFAULT false)
        RETURNS tsquery
        LANGUAGE plpgsql
        IMMUTABLE STRICT
AS $function$
BEGIN
RETURN (SELECT array_to_string(events.mt_grams_array($1, use_unaccent), ' & ') ::tsquery);
END
$function$;


CREATE
OR REPLACE FUNCTION events.mt_grams_array(words text, use_unaccent boolean DEFAULT false)
        RETURNS text[]
        LANGUAGE plpgsql
        IMMUTABLE STRICT
AS $function$
        DECLARE
result text[];
        DECLARE
word text;
        DECLARE
clean_word text;
BEGIN
                FOREACH
word IN ARRAY string_to_array(words, ' ')
                LOOP
                     clean_word = regexp_replace(events.mt_safe_unaccent(use_unaccent, word), '[^a-zA-Z0-9]+', '','g');
FOR i IN 1 .. length(clean_word)
                     LOOP
                         result := result || quote_literal(substr(lower(clean_word), i, 1));
                         result
:= result || quote_literal(substr(lower(clean_word), i, 2));
                         result
:= result || quote_literal(substr(lower(clean_word), i, 3));
END LOOP;
END LOOP;

RETURN ARRAY(SELECT DISTINCT e FROM unnest(result) AS a(e) ORDER BY e);
END;
$function$;


CREATE OR REPLACE FUNCTION events.mt_jsonb_append(jsonb, text[], jsonb, boolean, jsonb default null::jsonb)
    RETURNS jsonb
    LANGUAGE plpgsql
AS $function$
DECLARE
    retval ALIAS FOR $1;
    location ALIAS FOR $2;
    val ALIAS FOR $3;
    if_not_exists ALIAS FOR $4;
    patch_expression ALIAS FOR $5;
    tmp_value jsonb;
BEGIN
    tmp_value = retval #> location;
    IF tmp_value IS NOT NULL AND jsonb_typeof(tmp_value) = 'array' THEN
        CASE
            WHEN NOT if_not_exists THEN
                retval = jsonb_set(retval, location, tmp_value || val, FALSE);
            WHEN patch_expression IS NULL AND jsonb_typeof(val) = 'object' AND NOT tmp_value @> jsonb_build_array(val) THEN
                retval = jsonb_set(retval, location, tmp_value || val, FALSE);
            WHEN patch_expression IS NULL AND jsonb_typeof(val) <> 'object' AND NOT tmp_value @> val THEN
                retval = jsonb_set(retval, location, tmp_value || val, FALSE);
            WHEN patch_expression IS NOT NULL AND jsonb_typeof(patch_expression) = 'array' AND jsonb_array_length(patch_expression) = 0 THEN
                retval = jsonb_set(retval, location, tmp_value || val, FALSE);
            ELSE NULL;
            END CASE;
    END IF;
    RETURN retval;
END;
$function$;


CREATE OR REPLACE FUNCTION events.mt_jsonb_append_key_value(jsonb, text[], jsonb, boolean)
    RETURNS jsonb
    LANGUAGE plpgsql
AS $function$
DECLARE
    retval ALIAS FOR $1;
    location ALIAS FOR $2;
    val ALIAS FOR $3;
    if_not_exists ALIAS FOR $4;
    tmp_value jsonb;
    _key text;
BEGIN
    tmp_value = retval #> location;

    IF tmp_value IS NOT NULL AND jsonb_typeof(tmp_value) = 'object' THEN
        CASE
            WHEN NOT if_not_exists THEN
                retval = jsonb_set(retval, location, tmp_value || val, FALSE);
            WHEN NOT tmp_value ?| ARRAY(SELECT jsonb_object_keys(val)) THEN
                retval = jsonb_set(retval, location, tmp_value || val, FALSE);
            ELSE NULL;
        END CASE;
    END IF;
    RETURN retval;
END;
$function$;


CREATE OR REPLACE FUNCTION events.mt_jsonb_copy(jsonb, text[], text[])
    RETURNS jsonb
    LANGUAGE plpgsql
AS $function$
DECLARE
    retval ALIAS FOR $1;
    src_path ALIAS FOR $2;
    dst_path ALIAS FOR $3;
    tmp_value jsonb;
BEGIN
    tmp_value = retval #> src_path;
    retval = events.mt_jsonb_fix_null_parent(retval, dst_path);
    RETURN jsonb_set(retval, dst_path, tmp_value::jsonb, TRUE);
END;
$function$;


CREATE OR REPLACE FUNCTION events.mt_jsonb_duplicate(jsonb, text[], jsonb)
RETURNS jsonb
LANGUAGE plpgsql
AS $function$
DECLARE
    retval ALIAS FOR $1;
    location ALIAS FOR $2;
    targets ALIAS FOR $3;
    tmp_value jsonb;
    target_path text[];
    target text;
BEGIN
    FOR target IN SELECT jsonb_array_elements_text(targets)
    LOOP
        target_path = events.mt_jsonb_path_to_array(target, '\.');
        retval = events.mt_jsonb_copy(retval, location, target_path);
    END LOOP;

    RETURN retval;
END;
$function$;


CREATE OR REPLACE FUNCTION events.mt_jsonb_fix_null_parent(jsonb, text[])
    RETURNS jsonb
    LANGUAGE plpgsql
AS $function$
DECLARE
retval ALIAS FOR $1;
    dst_path ALIAS FOR $2;
    dst_path_segment text[] = ARRAY[]::text[];
    dst_path_array_length integer;
    i integer = 1;
BEGIN
    dst_path_array_length = array_length(dst_path, 1);
    WHILE i <=(dst_path_array_length - 1)
    LOOP
        dst_path_segment = dst_path_segment || ARRAY[dst_path[i]];
        IF retval #> dst_path_segment IS NULL OR retval #> dst_path_segment = 'null'::jsonb THEN
            retval = jsonb_set(retval, dst_path_segment, '{}'::jsonb, TRUE);
        END IF;
        i = i + 1;
    END LOOP;

    RETURN retval;
END;
$function$;


CREATE OR REPLACE FUNCTION events.mt_jsonb_increment(jsonb, text[], numeric)
    RETURNS jsonb
    LANGUAGE plpgsql
AS $function$
DECLARE
retval ALIAS FOR $1;
    location ALIAS FOR $2;
    increment_value ALIAS FOR $3;
    tmp_value jsonb;
BEGIN
    tmp_value = retval #> location;
    IF tmp_value IS NULL THEN
        tmp_value = to_jsonb(0);
END IF;

RETURN jsonb_set(retval, location, to_jsonb(tmp_value::numeric + increment_value), TRUE);
END;
$function$;


CREATE OR REPLACE FUNCTION events.mt_jsonb_insert(jsonb, text[], jsonb, integer, boolean, jsonb default null::jsonb)
    RETURNS jsonb
    LANGUAGE plpgsql
AS $function$
DECLARE
    retval ALIAS FOR $1;
    location ALIAS FOR $2;
    val ALIAS FOR $3;
    elm_index ALIAS FOR $4;
    if_not_exists ALIAS FOR $5;
    patch_expression ALIAS FOR $6;
    tmp_value jsonb;
BEGIN
    tmp_value = retval #> location;
    IF tmp_value IS NOT NULL AND jsonb_typeof(tmp_value) = 'array' THEN
        IF elm_index IS NULL THEN
            elm_index = jsonb_array_length(tmp_value) + 1;
        END IF;
        CASE
            WHEN NOT if_not_exists THEN
                retval = jsonb_insert(retval, location || elm_index::text, val);
            WHEN patch_expression IS NULL AND jsonb_typeof(val) = 'object' AND NOT tmp_value @> jsonb_build_array(val) THEN
                retval = jsonb_insert(retval, location || elm_index::text, val);
            WHEN patch_expression IS NULL AND jsonb_typeof(val) <> 'object' AND NOT tmp_value @> val THEN
                retval = jsonb_insert(retval, location || elm_index::text, val);
            WHEN patch_expression IS NOT NULL AND jsonb_typeof(patch_expression) = 'array' AND jsonb_array_length(patch_expression) = 0 THEN
                retval = jsonb_insert(retval, location || elm_index::text, val);
            ELSE NULL;
        END CASE;
    END IF;
    RETURN retval;
END;
$function$;


CREATE OR REPLACE FUNCTION events.mt_jsonb_move(jsonb, text[], text)
    RETURNS jsonb
    LANGUAGE plpgsql
AS $function$
DECLARE
    retval ALIAS FOR $1;
    src_path ALIAS FOR $2;
    dst_name ALIAS FOR $3;
    dst_path text[];
    tmp_value jsonb;
BEGIN
    tmp_value = retval #> src_path;
    retval = retval #- src_path;
    dst_path = src_path;
    dst_path[array_length(dst_path, 1)] = dst_name;
    retval = events.mt_jsonb_fix_null_parent(retval, dst_path);
    RETURN jsonb_set(retval, dst_path, tmp_value, TRUE);
END;
$function$;


CREATE OR REPLACE FUNCTION events.mt_jsonb_path_to_array(text, character)
    RETURNS text[]
    LANGUAGE plpgsql
AS $function$
DECLARE
    location ALIAS FOR $1;
    regex_pattern ALIAS FOR $2;
BEGIN
RETURN regexp_split_to_array(location, regex_pattern)::text[];
END;
$function$;


CREATE OR REPLACE FUNCTION events.mt_jsonb_remove(jsonb, text[], jsonb)
    RETURNS jsonb
    LANGUAGE plpgsql
AS $function$
DECLARE
    retval ALIAS FOR $1;
    location ALIAS FOR $2;
    val ALIAS FOR $3;
    tmp_value jsonb;
    tmp_remove jsonb;
    patch_remove jsonb;
BEGIN
    tmp_value = retval #> location;
    IF tmp_value IS NOT NULL AND jsonb_typeof(tmp_value) = 'array' THEN
        IF jsonb_typeof(val) = 'array' THEN
            tmp_remove = val;
        ELSE
            tmp_remove = jsonb_build_array(val);
        END IF;

        FOR patch_remove IN SELECT * FROM jsonb_array_elements(tmp_remove)
        LOOP
            tmp_value =(SELECT jsonb_agg(elem)
            FROM jsonb_array_elements(tmp_value) AS elem
            WHERE elem <> patch_remove);
        END LOOP;

        IF tmp_value IS NULL THEN
            tmp_value = '[]'::jsonb;
        END IF;
    END IF;
    RETURN jsonb_set(retval, location, tmp_value, FALSE);
END;
$function$;


CREATE OR REPLACE FUNCTION events.mt_jsonb_remove_key(jsonb, text[], text)
    RETURNS jsonb
    LANGUAGE plpgsql
AS $function$
DECLARE
    retval ALIAS FOR $1;
    location ALIAS FOR $2;
    _key ALIAS FOR $3;
    tmp_value jsonb;
    tmp_remove jsonb;
    patch_remove jsonb;
BEGIN
    tmp_value = retval #> location;
    IF tmp_value IS NOT NULL AND jsonb_typeof(tmp_value) = 'object' THEN
        RETURN jsonb_set(retval, location, tmp_value - _key, FALSE);
    END IF;
    RETURN retval;
END;
$function$;


CREATE OR REPLACE FUNCTION events.mt_jsonb_patch(jsonb, jsonb)
    RETURNS jsonb
    LANGUAGE plpgsql
AS $function$
DECLARE
    retval ALIAS FOR $1;
    patchset ALIAS FOR $2;
    patch jsonb;
    patch_path text[];
    patch_expression jsonb;
    value jsonb;
BEGIN
    FOR patch IN SELECT * from jsonb_array_elements(patchset)
    LOOP
        patch_path = events.mt_jsonb_path_to_array((patch->>'path')::text, '\.');

        patch_expression = null;
        IF (patch->>'type') IN ('remove', 'append_if_not_exists', 'insert_if_not_exists') AND (patch->>'expression') IS NOT NULL THEN
            patch_expression = jsonb_path_query_array(retval #> patch_path, (patch->>'expression')::jsonpath);
        END IF;

        CASE patch->>'type'
            WHEN 'set' THEN
                retval = jsonb_set(retval, patch_path, (patch->'value')::jsonb, TRUE);
            WHEN 'delete' THEN
                retval = retval#-patch_path;
            WHEN 'append' THEN
                retval = events.mt_jsonb_append(retval, patch_path, (patch->'value')::jsonb, FALSE);
            WHEN 'append_if_not_exists' THEN
                retval = events.mt_jsonb_append(retval, patch_path, (patch->'value')::jsonb, TRUE, patch_expression);
            WHEN 'append_key_value' THEN
                retval = events.mt_jsonb_append_key_value(retval, patch_path, (patch->'key_value')::jsonb, FALSE);
            WHEN 'append_key_value_if_not_exists' THEN
                retval = events.mt_jsonb_append_key_value(retval, patch_path, (patch->'key_value')::jsonb, TRUE);
            WHEN 'insert' THEN
                retval = events.mt_jsonb_insert(retval, patch_path, (patch->'value')::jsonb, (patch->>'index')::integer, FALSE);
            WHEN 'insert_if_not_exists' THEN
                retval = events.mt_jsonb_insert(retval, patch_path, (patch->'value')::jsonb, (patch->>'index')::integer, TRUE, patch_expression);
            WHEN 'remove' THEN
                retval = events.mt_jsonb_remove(retval, patch_path, COALESCE(patch_expression, (patch->'value')::jsonb));
            WHEN 'remove_key' THEN
                retval = events.mt_jsonb_remove_key(retval, patch_path, (patch->>'key'));
            WHEN 'duplicate' THEN
                retval = events.mt_jsonb_duplicate(retval, patch_path, (patch->'targets')::jsonb);
            WHEN 'rename' THEN
                retval = events.mt_jsonb_move(retval, patch_path, (patch->>'to')::text);
            WHEN 'increment' THEN
                retval = events.mt_jsonb_increment(retval, patch_path, (patch->>'increment')::numeric);
            WHEN 'increment_float' THEN
                retval = events.mt_jsonb_increment(retval, patch_path, (patch->>'increment')::numeric);
            ELSE NULL;
        END CASE;
    END LOOP;
    RETURN retval;
END;
$function$;


CREATE
OR REPLACE FUNCTION events.mt_safe_unaccent(use_unaccent BOOLEAN, word TEXT)
        RETURNS TEXT
        LANGUAGE plpgsql
        IMMUTABLE STRICT
AS $function$
BEGIN
IF use_unaccent THEN
    RETURN public.unaccent(word);
ELSE
    RETURN word;
END IF;
END;
$function$;


CREATE TABLE IF NOT EXISTS events.mt_doc_deadletterevent (
    id                  uuid                        NOT NULL,
    data                jsonb                       NOT NULL,
    mt_last_modified    timestamp with time zone    NULL DEFAULT (transaction_timestamp()),
    mt_version          uuid                        NOT NULL DEFAULT (md5(random()::text || clock_timestamp()::text)::uuid),
    mt_dotnet_type      varchar                     NULL,
CONSTRAINT pkey_mt_doc_deadletterevent_id PRIMARY KEY (id)
);
CREATE TABLE IF NOT EXISTS events.mt_streams (
    id                   varchar        NOT NULL,
    type                 varchar        NULL,
    version              bigint         NULL,
    timestamp            timestamptz    NOT NULL DEFAULT (now()),
    created              timestamptz    NOT NULL DEFAULT (now()),
    tenant_id            varchar        NULL DEFAULT '*DEFAULT*',
    compacted_version    bigint         NOT NULL DEFAULT 0,
    is_archived          bool           NULL DEFAULT FALSE,
CONSTRAINT pkey_mt_streams_id PRIMARY KEY (id)
);
CREATE TABLE IF NOT EXISTS events.mt_events (
    seq_id            bigint                      NOT NULL,
    id                uuid                        NOT NULL,
    stream_id         varchar                     NULL,
    version           bigint                      NOT NULL,
    data              jsonb                       NOT NULL,
    bdata             bytea                       NULL,
    type              varchar(500)                NOT NULL,
    timestamp         timestamp with time zone    NOT NULL DEFAULT '(now())',
    tenant_id         varchar                     NULL DEFAULT '*DEFAULT*',
    mt_dotnet_type    varchar                     NULL,
    is_archived       bool                        NULL DEFAULT FALSE,
CONSTRAINT pkey_mt_events_seq_id PRIMARY KEY (seq_id)
);

DO $do$
BEGIN
ALTER TABLE events.mt_events
ADD CONSTRAINT fkey_mt_events_stream_id FOREIGN KEY(stream_id)
REFERENCES events.mt_streams(id)ON DELETE CASCADE
;
EXCEPTION
    WHEN duplicate_object THEN NULL;
END
$do$;

CREATE UNIQUE INDEX pk_mt_events_stream_and_version ON events.mt_events USING btree (stream_id, version);
CREATE SEQUENCE events.mt_events_sequence;
ALTER SEQUENCE events.mt_events_sequence OWNED BY events.mt_events.seq_id;
CREATE TABLE IF NOT EXISTS events.mt_event_progression (
    name                         varchar                     NOT NULL,
    last_seq_id                  bigint                      NULL,
    last_updated                 timestamp with time zone    NULL DEFAULT (transaction_timestamp()),
    mode                         varchar                     NULL DEFAULT 'none',
    rebuild_threshold            integer                     NULL DEFAULT 0,
    assigned_node                integer                     NULL DEFAULT 0,
    heartbeat                    timestamp with time zone    NULL,
    agent_status                 varchar(20)                 NULL,
    pause_reason                 text                        NULL,
    running_on_node              integer                     NULL,
    warning_behind_threshold     bigint                      NULL,
    critical_behind_threshold    bigint                      NULL,
    failure_category             varchar(50)                 NULL,
    failure_event_sequence       bigint                      NULL,
    failure_event_type           varchar(500)                NULL,
    failure_event_tenant_id      varchar(500)                NULL,
CONSTRAINT pk_mt_event_progression PRIMARY KEY (name)
);
CREATE TABLE IF NOT EXISTS events.mt_event_projection_floors (
    name            varchar                     NOT NULL,
    tenant_id       varchar                     NOT NULL,
    floor           bigint                      NOT NULL,
    last_updated    timestamp with time zone    NULL DEFAULT (transaction_timestamp()),
CONSTRAINT pkey_mt_event_projection_floors_name_tenant_id PRIMARY KEY (name, tenant_id)
);
CREATE
OR REPLACE FUNCTION events.mt_mark_event_progression(name varchar, last_encountered bigint) RETURNS VOID LANGUAGE plpgsql AS
$function$
BEGIN
INSERT INTO events.mt_event_progression (name, last_seq_id, last_updated)
VALUES (name, last_encountered, transaction_timestamp())
ON CONFLICT ON CONSTRAINT pk_mt_event_progression
    DO
UPDATE SET last_seq_id = last_encountered, last_updated = transaction_timestamp();

END;

$function$;



CREATE OR REPLACE FUNCTION events.mt_archive_stream(streamid varchar) RETURNS VOID LANGUAGE plpgsql AS
$function$
BEGIN
  update events.mt_streams set is_archived = TRUE where id = streamid ;
  update events.mt_events set is_archived = TRUE where stream_id = streamid ;
END;
$function$;


CREATE OR REPLACE FUNCTION events.mt_quick_append_events(stream varchar, stream_type varchar, tenantid varchar, event_ids uuid[], event_types varchar[], dotnet_types varchar[], bodies jsonb[], bdatas bytea[], timestamps timestamp with time zone[], expected_version bigint DEFAULT NULL::bigint) RETURNS bigint[] AS $$
DECLARE
	event_version bigint;
	stream_is_archived boolean;
	event_type varchar;
	event_id uuid;
	body jsonb;
	index int;
	seq bigint;
    actual_tenant varchar;
    is_new_stream boolean := false;
	return_value bigint[];
BEGIN
    if expected_version IS NOT NULL then
        -- COALESCE turns the NULL we get for a brand-new stream into 0, so a
        -- FetchForWriting against a non-existent stream (which sets
        -- ExpectedVersionOnServer = 0) and a StartStream(id, version: 0) both
        -- land on the new-stream branch instead of mis-firing the guard.
        select version, is_archived into event_version, stream_is_archived from events.mt_streams where id = stream;
        if COALESCE(event_version, 0) != expected_version then
            RAISE EXCEPTION 'Stream version mismatch on ''%'': expected %, actual %', stream, expected_version, COALESCE(event_version, 0) USING ERRCODE = 'MT003';
        end if;
    else
        select version, is_archived into event_version, stream_is_archived from events.mt_streams where id = stream;
    end if;

	if event_version IS NULL then
		event_version = 0;
		is_new_stream := true;
		-- #5456 follow-up: insert the FINAL version straight away rather than 0 plus a
		-- trailing UPDATE of the row we just wrote in this same transaction. That UPDATE
		-- is a second heap tuple + WAL record per stream creation for no observable gain
		-- -- nothing outside this transaction can see the intermediate 0. The trailing
		-- UPDATE below is skipped for this branch via is_new_stream.
		insert into events.mt_streams (id, type, version, timestamp, tenant_id) values (stream, stream_type, COALESCE(array_length(event_ids, 1), 0), now(), tenantid);
    else
        if stream_is_archived then
            RAISE EXCEPTION 'Attempted to append event to archived stream with Id ''%''.', stream USING ERRCODE = 'MT001';
        end if;
        if tenantid IS NOT NULL then
            select tenant_id into actual_tenant from events.mt_streams where id = stream;
            if actual_tenant != tenantid then
                RAISE EXCEPTION 'The tenantid does not match the existing stream';
            end if;
        end if;
	end if;

	index := 1;
	-- #5062: array_length('{}', 1) is NULL in PostgreSQL, not 0, so a call with an
	-- empty event array used to return ARRAY[NULL] -- a bigint[] whose only element
	-- is NULL, which Npgsql cannot read into long[] ('Cannot read a non-nullable
	-- collection of elements because the returned array contains nulls'). COALESCE
	-- makes the empty case mean what it says: zero events appended, so the final
	-- version is the stream's current version.
	return_value := ARRAY[event_version + COALESCE(array_length(event_ids, 1), 0)];

	foreach event_id in ARRAY event_ids
	loop
        seq := nextval('events.mt_events_sequence');
		return_value := array_append(return_value, seq);

	    event_version := event_version + 1;
		event_type = event_types[index];
		body = bodies[index];

		-- #4515 / #4578 / Phase 2: bdatas[index] carries the binary payload
		-- for events opted in to binary serialization (NULL otherwise).
		-- bodies[index] is the {} JSON placeholder for those events so the
		-- existing data jsonb NOT NULL constraint stays intact.
		insert into events.mt_events
			(seq_id, id, stream_id, version, data, bdata, type, tenant_id, timestamp, mt_dotnet_type, is_archived)
		values
			(seq, event_id, stream, event_version, body, bdatas[index], event_type, tenantid, timestamps[index], dotnet_types[index], FALSE);

		index := index + 1;
	end loop;

	-- A brand-new stream already carries its final version from the insert above, so the
	-- UPDATE is only needed when we appended onto a stream that already existed.
	--
	-- #5539: and only when we actually appended something. With ZERO events this was a BLIND write-back
	-- of the version read at the top of the function, and under READ COMMITTED that is a lost update: the
	-- UPDATE waits on a concurrent appender's row lock, the winner commits, the WHERE clause is
	-- re-evaluated against the new row, and `set version = <the stale value>` lands -- leaving
	-- mt_streams.version BELOW the stream's own events. Every later append then computes a version that
	-- already exists and dies on pk_mt_events_stream_and_version, forever, until the row is repaired by
	-- hand. A non-empty call cannot do this: its first INSERT collides with the winner on that same
	-- primary key and rolls the whole thing back, which is why only the empty case was exposed.
	--
	-- Two independent guards, because either alone would have been enough and the cost of both is nil:
	--   * the append count -- appending nothing has nothing to write, so the correct number of statements
	--     is zero rather than one that happens to be harmless;
	--   * greatest(), so the write-back can never LOWER a stream's version whoever calls it. An append
	--     only ever moves a version forward, so this is a no-op on every correct path and a backstop on
	--     any future caller that reads the version and then writes it back.
	if not is_new_stream and COALESCE(array_length(event_ids, 1), 0) > 0 then
		update events.mt_streams set version = greatest(version, event_version), timestamp = now() where id = stream;
	end if;

	return return_value;
END
$$ LANGUAGE plpgsql;

CREATE TABLE IF NOT EXISTS events.mt_high_water_skips (
    ending_sequence      bigint                      NOT NULL,
    starting_sequence    bigint                      NOT NULL,
    timestamp            timestamp with time zone    NULL DEFAULT (transaction_timestamp()),
CONSTRAINT pkey_mt_high_water_skips_ending_sequence PRIMARY KEY (ending_sequence)
);
CREATE
OR REPLACE FUNCTION events.mt_mark_progression_with_skip(shard_name varchar, ending_sequence bigint, starting_sequence bigint) RETURNS bigint AS
$$
DECLARE
    current_value bigint;
BEGIN
    select last_seq_id into current_value from events.mt_event_progression where name = shard_name;

    IF current_value is null then
        -- Bootstrap the high-water row on first invocation. Previously this branch
        -- returned 0, which left HighWaterAgent.CheckNowAsync polling forever because
        -- statistics.CurrentMark never advanced. Issue #4425.
        INSERT INTO events.mt_event_progression (name, last_seq_id, last_updated)
        VALUES (shard_name, ending_sequence, transaction_timestamp())
        ON CONFLICT ON CONSTRAINT pk_mt_event_progression
            DO UPDATE SET last_seq_id = ending_sequence, last_updated = transaction_timestamp();
        IF ending_sequence > starting_sequence THEN
            -- Idempotent: a rebuild/replay re-marks the same skip (ending_sequence is the
            -- PK). Re-recording an existing gap is a no-op. Conflict target is the PK
            -- constraint (the bare column name collides with the function parameter). #4530.
            insert into events.mt_high_water_skips (ending_sequence, starting_sequence) values (ending_sequence, starting_sequence)
                on conflict on constraint pkey_mt_high_water_skips_ending_sequence do nothing;
        END IF;
        return ending_sequence;
    ELSIF current_value = starting_sequence THEN
        update events.mt_event_progression SET last_seq_id = ending_sequence, last_updated = transaction_timestamp() where shard_name = name;
        insert into events.mt_high_water_skips (ending_sequence, starting_sequence) values (ending_sequence, starting_sequence)
            on conflict on constraint pkey_mt_high_water_skips_ending_sequence do nothing;
        return ending_sequence;
    ELSE
        return current_value;
    END IF;
END
$$
LANGUAGE plpgsql;



create schema if not exists traceability;
create table if not exists traceability.migration (
    number integer primary key, name text not null, applied_at timestamptz not null default now());
alter table traceability.migration add column if not exists checksum text, add column if not exists is_compatible boolean not null default false;

-- 0001-units.sql
set local search_path to traceability;
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
insert into traceability.migration (number, name, checksum, is_compatible) values (1, '0001-units.sql', 'c3455385d10e4f9d639134a0da5d6eda4da92d6f8e2aaad59210ec2b810d9195', false);

-- 0002-access.sql
set local search_path to traceability;
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
insert into traceability.migration (number, name, checksum, is_compatible) values (2, '0002-access.sql', '32b6f7ce518fab58ef4099e965d57d71d917e3d101611c8676f4d5be5c35545b', false);

-- 0003-require.sql
set local search_path to traceability;
-- Fails the transaction unless a condition holds: what a group of facts was planned on must still be so when it is stored.
-- Null does not hold.
create function require(holds boolean, what text) returns void language plpgsql as $$
begin
  if holds is not true then
    raise exception using errcode = 'TR001', message = what;
  end if;
end
$$;
insert into traceability.migration (number, name, checksum, is_compatible) values (3, '0003-require.sql', 'e0a2f87b1f2653a47baf68978073d82b92bdaed13fa9b8de58eefc0180c38e00', false);

-- 0004-lean-ingest.sql
set local search_path to traceability;
-- Compatible: an older service runs on.
-- What is written with every fact, made less.

-- Which lots a unit's judgement looks at is told by its usages, and which people by its step results; what is left of the
-- dependencies (tools, component units) follows from the unit's facts, so nothing reads them by unit.
drop index dependency_unit;
delete from dependency where subject like 'lot/%' or subject like 'person/%';
create index step_result_person on step_result (person);

-- Events and streams are written by one statement that checks every version, and streams are never deleted: the foreign key
-- checks once more, for each event, what has just been written.
do $$
declare found record;
begin
    for found in select conname from pg_constraint where conrelid = 'events.mt_events'::regclass and contype = 'f' loop
        execute format('alter table events.mt_events drop constraint %I', found.conname);
    end loop;
end
$$;

-- A stream's row is updated with every group that adds to it: room on its page keeps the update away from the index.
alter table events.mt_streams set (fillfactor = 70);

-- Begins a group: holds the lock that group commits share, then requires that nothing that judgements look at has changed. A
-- group that changes what others look at (lots, tools, definitions) holds it alone, so that no judgement made on the old state
-- can be stored after the new one without being noticed. Volatile: the clock is read after the lock is held.
create function hold(reference_seq bigint, alone boolean) returns void language plpgsql volatile as $$
begin
  if alone then
    perform pg_advisory_xact_lock(7270002);
  else
    perform pg_advisory_xact_lock_shared(7270002);
  end if;

  perform traceability.require((select seq from traceability.reference_clock) = reference_seq, 'clock');
end
$$;
insert into traceability.migration (number, name, checksum, is_compatible) values (4, '0004-lean-ingest.sql', '3ea4fb6af3f3afaadcb3bb176570c6a3f79329b22d815ba6ae8f6045ee9592cb', true);

-- 0010-rebuild.sql
set local search_path to traceability;
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
insert into traceability.migration (number, name, checksum, is_compatible) values (10, '0010-rebuild.sql', '3bd51190d81761dc153e35969e44f450e88c8238809a993901496ca0d2391592', true);

-- 0020-unreadable.sql
set local search_path to traceability;
-- Compatible: an older service runs on.
-- Stored events that this version of the service can't read, as found by the check of stored events.
create table unreadable_event (
    seq_id   bigint      primary key,
    event_id uuid        not null,
    stream   text        not null,
    name     text        not null,
    reason   text        not null,
    found_at timestamptz not null default now()
);
create index unreadable_event_stream on unreadable_event (stream);

-- How far the check of stored events has come: the end that new events are read from, and the round through all of them.
create table event_check (
    one       boolean     primary key default true check (one),
    tail      bigint      not null,
    round     bigint      not null,
    round_end timestamptz                           -- when the last round ended; null while the first one runs
);
insert into event_check (tail, round) select coalesce(max(seq_id), 0), 0 from events.mt_events;

-- Which instance does a piece of work that one should do. A lease that is not renewed falls to another instance.
create table worker_lease (
    name   text        primary key,
    holder uuid        not null,
    until  timestamptz not null
);

-- A unit that can't be judged again is put off, longer each time, and is not lost.
alter table rejudge add column tries integer not null default 0, add column tried_at timestamptz, add column trouble text;
insert into traceability.migration (number, name, checksum, is_compatible) values (20, '0020-unreadable.sql', 'd70682154180b68c55748fe23f96a23ed520d88c69dc3eb624afd3916dada9c5', true);

-- 0021-replica-beat.sql
set local search_path to traceability;
-- Compatible: an older service runs on.
-- A moment that the service writes again and again while it reads from replicas: what a replica has of it tells how far it has come.
create table replica_beat (
    one boolean     primary key default true check (one),
    at  timestamptz not null
);
insert into replica_beat (at) values ('-infinity');
insert into traceability.migration (number, name, checksum, is_compatible) values (21, '0021-replica-beat.sql', 'da298169389756ee50bb91ddd84006aa70ce2ddf6fae55e94333815ca7844f83', true);

-- 0030-cure.sql
set local search_path to traceability;
-- Compatible: an older service runs on.
-- A minimum that depends on temperature: what the time of readiness assumes, and until when readings bear that out.
alter table open_interval add column assumption text, add column assumed_until timestamptz;

-- Over which times a unit's judgement looked at the temperatures of a place: a reading within one asks for the unit again.
create table cure_window (
    unit        text        not null,
    row_id      bigint      not null,
    place       text        not null,
    looked_from timestamptz not null,
    looked_to   timestamptz not null,
    primary key (unit, row_id)
);
create index cure_window_place on cure_window (place, looked_to);
insert into traceability.migration (number, name, checksum, is_compatible) values (30, '0030-cure.sql', '33ae29e027d7752c8ebb8224f54c1bd69b6653e9a918c016e3e1a2eff9bd5937', true);

-- 0035-tool-usage.sql
set local search_path to traceability;
-- Incompatible: an older service would leave the rows of tool_usage as they were when it judges a unit again.
-- Which tools the records of a unit name: one row for each tool of each attempt that counts.
create table tool_usage (
    unit        text        not null,
    row_id      bigint      not null,
    tool        text        not null,
    setting     text,
    requirement text,
    step        text        not null,
    attempt     integer     not null,
    record      uuid        not null,
    at          timestamptz not null,           -- when the step was completed: the time that the tool is judged at
    used_from   timestamptz not null,
    used_to     timestamptz not null,
    station     text,
    primary key (unit, row_id)
);
create index tool_usage_tool on tool_usage (tool, at, unit, row_id);

-- The units that were stored before get their rows when they are judged again, in the background.
insert into rejudge (unit, asked_at) select distinct unit, now() from dependency where starts_with(subject, 'tool/') on conflict (unit) do nothing;
insert into traceability.migration (number, name, checksum, is_compatible) values (35, '0035-tool-usage.sql', 'b10cf85652babec38b8761a90f6f5d93b5b53e327cde718b46b4030cc545974b', false);

-- 0040-nonconformances.sql
set local search_path to traceability;
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
insert into traceability.migration (number, name, checksum, is_compatible) values (40, '0040-nonconformances.sql', '9764c5c1f401ae1dc63ac9d8c2585bfd76392ec9fda254119db9769537b4e4ab', true);

-- 0041-attachments.sql
set local search_path to traceability;
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
insert into traceability.migration (number, name, checksum, is_compatible) values (41, '0041-attachments.sql', '148195b6d13e048c6fac40f5149bbc9e6fb31378b2d18eaa278c9aefa97a63f2', true);

-- 0045-signing.sql
set local search_path to traceability;
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
insert into traceability.migration (number, name, checksum, is_compatible) values (45, '0045-signing.sql', 'd86c6f985c112a7eb50c8d5b9701066962b9bf86624dca0ba3a3a747fc77fc1c', true);

-- 0050-lots.sql
set local search_path to traceability;
-- Incompatible: an older service can't read the new facts about lots, and would not note which lots name which.
-- How much a unit used of a lot, as entered: the number, a space, the UCUM code. Rows from before hold none until their units are
-- judged again (a rebuild judges all).
alter table material_usage add column quantity text;

-- Which lots name what: a lot that they were made of ('source', as item/lot), or a supplier's lot as marked ('supplier-lot'). A row
-- is only where to look: it stays when the fact that it came from is corrected, and what counts is read from the lot's own facts.
create table lot_naming (
    kind text not null,
    name text not null,
    lot  text not null,                         -- item/lot
    primary key (kind, name, lot)
);

insert into lot_naming (kind, name, lot)
select distinct 'supplier-lot', n.name, substr(n.stream_id, length('lot/') + 1)
from (
    select e.stream_id, coalesce(e.data ->> 'supplierLot', e.data -> 'replacement' ->> 'supplierLot') as name
    from reference_stream r join events.mt_events e on e.stream_id = r.stream where r.kind = 'lot') n
where n.name is not null;
insert into traceability.migration (number, name, checksum, is_compatible) values (50, '0050-lots.sql', '6adaa11652282438d416fc5c88f25f7e2359c66d3fba2a486a7882ededa17100', false);

-- 0060-scope-questions.sql
set local search_path to traceability;
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
insert into traceability.migration (number, name, checksum, is_compatible) values (60, '0060-scope-questions.sql', '6e79b859353ca513c21babb5b66496f496db1ba88246f9f2c03a0bec4cb2cbfe', true);

-- 0065-evidence.sql
set local search_path to traceability;
-- Incompatible: an older service would leave the rows of the new tables as they were when it judges a unit again.
-- What was measured and checked: one row for each value and check of each attempt that counts.
create table measurement (
    unit           text             not null,
    row_id         bigint           not null,
    item           text             not null,
    step           text             not null,
    attempt        integer          not null,
    record         uuid             not null,
    characteristic text             not null,
    value          text,                        -- as entered: the number, a space, the UCUM code; null for a check
    magnitude      double precision,            -- in the coherent SI unit of the dimension; null for a check and an unknown unit
    dimension      text,                        -- such as 'L2.M.T-2'; '1' for a plain number
    uncertainty    double precision,            -- expanded, coverage factor 2, in the same unit; null: none is stated
    passed         boolean,                     -- null: not judged, or not shown either way
    used_from      timestamptz      not null,
    used_to        timestamptz      not null,
    station        text,
    primary key (unit, row_id)
);
create index measurement_value on measurement (characteristic, dimension, magnitude);
create index measurement_not_passed on measurement (characteristic, unit) where passed is not true;

-- Intervals that have ended.
create table interval_result (
    unit        text        not null,
    row_id      bigint      not null,
    item        text        not null,
    rule        text        not null,
    from_step   text        not null,
    to_step     text        not null,
    from_record uuid,                           -- null: its start is not recorded
    to_record   uuid        not null,
    least       interval,                       -- how long it was at least, whichever way the clocks were off; null: nothing tells
    most        interval,
    verdict     text        not null,
    at          timestamptz not null,           -- when it ended
    station     text,
    primary key (unit, row_id)
);
create index interval_result_least on interval_result (rule, least);
create index interval_result_most on interval_result (rule, most);

-- Work that should be recorded and isn't. Steps are found by time, tools by their class, the rest by what is required.
create table work_gap (
    unit        text        not null,
    row_id      bigint      not null,
    item        text        not null,
    kind        text        not null,
    reason      text        not null,
    step        text        not null,
    requirement text,                           -- the tool requirement, the characteristic or the interval rule; null for a step
    tool_class  text,
    record      uuid        not null,           -- all zeros: none
    used_from   timestamptz not null,
    used_to     timestamptz,                    -- null: until now
    station     text,                           -- null: any
    person      text,                           -- null: anyone
    stations    text,                           -- those of the routing, separated by spaces; null: any
    primary key (unit, row_id)
);
create index work_gap_time on work_gap (kind, used_from);
create index work_gap_tool on work_gap (tool_class, used_from) where tool_class is not null;
create index work_gap_requirement on work_gap (kind, requirement, used_from);

-- When the work can have been done. Rows from before may be of any time until their units are judged again.
alter table step_result add column earliest timestamptz not null default '-infinity';
alter table step_result add column latest timestamptz not null default 'infinity';
create index step_result_station on step_result (station, completed_at);
drop index step_result_person;
create index step_result_person on step_result (person, completed_at);
create index step_result_revision on step_result (item, revision, completed_at);
create index step_result_completed on step_result using brin (completed_at);

-- Work of a time is found by when it was completed, less and plus a day; what may have taken longer, by these.
create index step_result_long on step_result (latest) where (latest at time zone 'UTC') > (earliest at time zone 'UTC') + interval '1 day';
create index tool_usage_long on tool_usage (tool) where (used_to at time zone 'UTC') > (used_from at time zone 'UTC') + interval '1 day';

-- The units that were stored before get their rows when they are judged again, in the background.
insert into rejudge (unit, asked_at) select unit, now() from unit on conflict (unit) do nothing;
insert into traceability.migration (number, name, checksum, is_compatible) values (65, '0065-evidence.sql', '383a982c1107c672d5f0f8468f20dc192d2f8d0822bf09a02b4f46485014de57', false);

-- 0070-holds.sql
set local search_path to traceability;
-- Incompatible: an older service takes the lifting of one hold for the lifting of all, and leaves unit.holds as it was.
-- The holds that stand on a unit, by name, with spaces between; * for one without a name.
alter table unit add column holds text;

-- Units that were held get theirs when they are judged again, in the background.
insert into rejudge (unit, asked_at)
select distinct substr(stream_id, length('unit/') + 1), now() from events.mt_events where type in ('unit_held', 'unit_hold_lifted')
on conflict (unit) do nothing;
insert into traceability.migration (number, name, checksum, is_compatible) values (70, '0070-holds.sql', '114ca0c49fdfd2ce25177b45580997c8f72c95c8eae65bf4e899e578e90c4c48', false);

-- 0071-containments.sql
set local search_path to traceability;
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
insert into traceability.migration (number, name, checksum, is_compatible) values (71, '0071-containments.sql', '4c95d3d6f5332836b9d110477cdb71d386b0b39ef710822a1b1895b7904f89ec', false);

-- 0075-dispersion.sql
set local search_path to traceability;
-- Compatible: an older service runs on; it leaves the counts as they are.
-- How many finished units carry each lot, counted in the background from material_usage and installation. Only a cache: it may be
-- emptied at any time (with dispersion_count.state set to null) and is counted anew.
create table lot_dispersion (
    item       text        not null,
    lot        text        not null,
    units      integer     not null,            -- whose own record names the lot
    finished   integer     not null,            -- that carry it and are inside no other unit
    shipped    integer     not null,
    shipments  integer     not null,            -- consignees and days (UTC)
    consignees integer     not null,
    used_from  timestamptz not null,
    used_to    timestamptz not null,
    primary key (item, lot)
);
create index lot_dispersion_widest on lot_dispersion (finished desc, item collate "C", lot collate "C");
create index lot_dispersion_item on lot_dispersion (item, finished desc, lot collate "C");

create table item_dispersion (
    item      text   primary key,
    lots      bigint not null,
    finished  bigint not null,
    links     bigint not null,
    lots_most bigint not null
);

create table dispersion_count (
    one        boolean primary key default true check (one),
    counted_at timestamptz,
    state      text                             -- what was there when it was counted; null: count anew
);
insert into dispersion_count default values;
insert into traceability.migration (number, name, checksum, is_compatible) values (75, '0075-dispersion.sql', 'c57d09ba71919e2f5d488489bb660c7eb5e614ecde1541ff829ff855ff392b49', true);

-- 0080-supervisors.sql
set local search_path to traceability;
-- Incompatible: of steps that an older service records, nobody would know who watched over them.
-- A unit is found by who watched over its steps, too, so that it is judged again when something changes in that person's qualifications.
insert into dependency (subject, unit)
select distinct 'person/' || s.supervisor, substr(e.stream_id, 6)
from events.mt_events e cross join lateral (values (e.data ->> 'supervisor'), (e.data -> 'replacement' ->> 'supervisor')) s (supervisor)
where starts_with(e.stream_id, 'unit/') and s.supervisor is not null
on conflict do nothing;

-- Whatever changed in the meantime and was not asked for is judged now.
insert into rejudge (unit, asked_at) select distinct unit, now() from dependency where starts_with(subject, 'person/') on conflict do nothing;
insert into rejudge (unit, asked_at) select distinct unit, now() from finding where kind in ('defect-reported', 'defect-unknown') on conflict do nothing;
insert into traceability.migration (number, name, checksum, is_compatible) values (80, '0080-supervisors.sql', '2ee13f5341b9c8afce4e1318e147b4c89e2a79fb5723271f3a2162c792213979', false);

-- 0081-shipments.sql
set local search_path to traceability;
-- Incompatible: an older service would leave the rows of shipment as they were when it judges a unit again.
-- To whom units left: one row for each time that a unit left.
create table shipment (
    unit            text        not null,
    row_id          bigint      not null,
    item            text        not null,
    consignee       text        not null,
    order_reference text,
    shipment        text,                           -- the shipment of several units, where the service decided on it
    record          uuid        not null,
    at              timestamptz not null,
    returned_at     timestamptz,                    -- when it came back after that
    primary key (unit, row_id)
);
create index shipment_at on shipment (at, unit, row_id);
create index shipment_consignee on shipment (consignee, at, unit, row_id);
create index shipment_order on shipment (order_reference, at, unit, row_id) where order_reference is not null;
create index shipment_shipment on shipment (shipment) where shipment is not null;

-- The units that have left before get their rows when they are judged again, in the background.
insert into rejudge (unit, asked_at) select distinct substr(stream_id, 6), now() from events.mt_events where type = 'unit_shipped' on conflict (unit) do nothing;
insert into traceability.migration (number, name, checksum, is_compatible) values (81, '0081-shipments.sql', 'dabb4f3011bf4a9ee2f6059cbec46f9efa1442b356dc41147fdd799f3df2b73f', false);

-- 0082-uncertain-installations.sql
set local search_path to traceability;
-- Compatible: an older service leaves the column empty, which reads as no uncertainty, and goes on finding what it found before.
-- By how much either time may be wrong, by the clocks that told them; null: not at all.
alter table installation add column uncertainty interval;

-- Units into which something was put are judged again, in the background: most times have some uncertainty.
insert into rejudge (unit, asked_at) select distinct parent, now() from installation on conflict (unit) do nothing;
insert into traceability.migration (number, name, checksum, is_compatible) values (82, '0082-uncertain-installations.sql', '5fff8523dcf7364c6aa457a310418735174b582435b9334a24ff22aa321d56a3', true);

-- 0083-own-lots-missing.sql
set local search_path to traceability;
-- Compatible: an older service looks for the other kinds of gaps, and goes on finding what it found before.
-- The lot that a unit itself came in is missing at no step.
alter table trace_gap alter column step drop not null, alter column requirement drop not null;

-- Units that hold a component of which nothing is recorded: every answer about a suspect tells how many there are.
create index trace_gap_unknown on trace_gap (unit) where kind = 'own-lot' and requirement is not null;

-- Judged again, in the background: units that may have been bought and name no lot of their own, and those into which something was put
-- of which nothing else is recorded.
insert into rejudge (unit, asked_at)
select unit, now() from unit u
where not exists (select from material_usage m where m.unit = u.unit and m.step is null)
    and not exists (select from step_result s where s.unit = u.unit)
union
select parent, now() from installation i where not exists (select from unit u where u.unit = i.component)
on conflict (unit) do nothing;
insert into traceability.migration (number, name, checksum, is_compatible) values (83, '0083-own-lots-missing.sql', 'c8b7f590535c0f00fef57f350103b0b5014a1b0cfe8f629cda5fce647d452a66', true);

-- 0084-gaps-by-revision.sql
set local search_path to traceability;
-- Compatible: an older service leaves the column empty, which reads as any revision, and goes on finding what it found before.
-- Which revision asks for a step that is not recorded at all; null: any.
alter table work_gap add column revision text;

-- What is missing in records is found under every revision that a unit was under, where the record is void that opened it, where it
-- was taken out of a place into which no record put it, and where a record can't be read. Such units are judged again, in the background.
insert into rejudge (unit, asked_at)
select distinct substr(e.stream_id, 6), now() from events.mt_events e
where starts_with(e.stream_id, 'unit/') and e.type in ('unit_moved_to_revision', 'record_voided', 'record_corrected', 'component_removed')
on conflict (unit) do nothing;
insert into rejudge (unit, asked_at) select unit, now() from unit where has_unreadable on conflict (unit) do nothing;
insert into rejudge (unit, asked_at) select distinct unit, now() from work_gap where reason = 'step-not-recorded' on conflict (unit) do nothing;
insert into traceability.migration (number, name, checksum, is_compatible) values (84, '0084-gaps-by-revision.sql', '1427968bc9d05fd9e8c57ca51094b26a535872058d83278320c7af3cd140949c', true);

-- 0085-scope-speed.sql
set local search_path to traceability;
-- Compatible: an older service finds its rows by these indexes as it did by those before.
-- Uses and work of a time are found by when they were completed: from its start on and until a day after its end. When they began is in
-- the index, so that those of the day after are passed over without a look at their rows.
drop index tool_usage_tool;
create index tool_usage_tool on tool_usage (tool, at, unit, row_id, used_from);
drop index step_result_person;
create index step_result_person on step_result (person, completed_at, earliest);
drop index step_result_station;
create index step_result_station on step_result (station, completed_at, earliest);
drop index step_result_revision;
create index step_result_revision on step_result (item, revision, completed_at, earliest);

-- What may have been completed more than an hour after its time, by a clock that is in doubt, is little.
create index step_result_late on step_result (completed_at) where (latest at time zone 'UTC') > (completed_at at time zone 'UTC') + interval '1 hour';
create index tool_usage_late on tool_usage (tool, at) where (used_to at time zone 'UTC') > (at at time zone 'UTC') + interval '1 hour';

-- Values that an uncertainty is stated for: it may reach over a bound, however far away.
create index measurement_uncertain on measurement (characteristic, dimension, magnitude) where uncertainty is not null;
insert into traceability.migration (number, name, checksum, is_compatible) values (85, '0085-scope-speed.sql', 'f54344cda7622eb4c2bedfb5531740b897372ceacacf7866aacbe5caed5e2e21', true);

-- 0088-open-times-and-batch-splits.sql
set local search_path to traceability;
-- Compatible: an older service runs on. It judges open times by the fixed maximum.
-- A maximum that is an open time: after when it may have been exceeded, and after when it surely was.
alter table open_interval add column may_be_overdue_at timestamptz, add column surely_overdue_at timestamptz;

-- Which batches name a batch that they were split off, or did: where to look, never the answer itself.
create table batch_naming (
    source text not null,
    batch  text not null,
    primary key (source, batch)
);
create index batch_naming_batch on batch_naming (batch);

-- Units that came out of batches are judged again: that more were taken out than there were parts is a finding of theirs now.
insert into rejudge (unit, asked_at) select distinct unit, now() from dependency where subject like 'batch/%' on conflict (unit) do nothing;
insert into traceability.migration (number, name, checksum, is_compatible) values (88, '0088-open-times-and-batch-splits.sql', '40a083c04a0a44b967f1db8888172836ea54d7a454414e72cc023d15b6f8c029', true);

set search_path to default;
