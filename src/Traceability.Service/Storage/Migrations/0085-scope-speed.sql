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
