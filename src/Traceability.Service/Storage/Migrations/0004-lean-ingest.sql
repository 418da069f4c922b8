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
