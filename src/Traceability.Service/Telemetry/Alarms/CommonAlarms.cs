namespace Traceability.Service.Telemetry.Alarms;

/// <summary>The alarms about what is stored, and about sessions of the database that hold things up.</summary>
internal static class CommonAlarms
{
    /// <summary>Adds them.</summary>
    public static void Add(IServiceCollection services)
    {
        foreach (var alarm in All())
        {
            services.AddSingleton<IAlarmSource>(alarm);
        }
    }

    private static SqlAlarm[] All() =>
    [
        new(
            "events-unreadable",
            """
            select min(found_at), count(*),
                (select string_agg(s.stream, ', ') from (select distinct stream from traceability.unreadable_event order by stream limit 10) s)
            from traceability.unreadable_event
            """,
            static (count, streams) => $"{count} stored events can't be read, in {streams}. What looks at them counts as unknown.",
            "Read them with GET /api/facts/{factId}. Events of a newer version: finish the upgrade. Damaged ones: correct each by a record-corrected that names it, or restore it from a backup."),
        new(
            "units-not-judged",
            """
            select null::timestamptz, count(distinct unit),
                (select string_agg(s.unit, ', ') from (select distinct unit from traceability.finding where kind = 'unit-not-judged' order by unit limit 10) s)
            from traceability.finding where kind = 'unit-not-judged'
            """,
            static (count, units) => $"{count} units could not be judged, among them {units}. Their facts are recorded; every answer calls them unknown.",
            "This is a defect of the program: report the finding's reason (GET /api/findings?kind=unit-not-judged). Each start of the service tries again."),
        new(
            "rejudge-queue-old",
            "select min(asked_at), count(*), null from traceability.rejudge where tries = 0 and asked_at < now() - interval '60 seconds'",
            static (count, _) => $"{count} units have waited for more than a minute to be judged again. Answers say that they may be behind.",
            "Long after a large change this is normal for a while. Else look at the log, and at what holds locks in the database (pg_stat_activity)."),
        new(
            "rejudge-failing",
            """
            select min(asked_at), count(*), string_agg(unit || ' (' || coalesce(trouble, '') || ')', ', ' order by asked_at) filter (where n <= 5)
            from (select *, row_number() over (order by asked_at) n from traceability.rejudge where tries > 0) q
            """,
            static (count, units) => $"{count} units could not be judged again: {units}. They are put off and tried again.",
            "The reason stands beside each unit. What is stored of them is as it was before the change."),
        new(
            "transaction-idle",
            """
            select min(state_change), count(*), string_agg(pid::text || ' ' || coalesce(nullif(application_name, ''), usename, ''), ', ' order by state_change)
            from pg_stat_activity
            where datname = current_database() and state in ('idle in transaction', 'idle in transaction (aborted)')
              and state_change < now() - interval '20 seconds'
            """,
            static (count, sessions) => $"{count} sessions sit in an open transaction and do nothing: {sessions}. They hold locks and keep old rows from being cleared away.",
            "End them: select pg_terminate_backend(pid). Set idle_in_transaction_session_timeout for whoever does that."),
        new(
            "terminal-clock-off",
            """
            select min(at), count(*), string_agg(distinct unit, ', ') filter (where n <= 5)
            from (select at, unit, row_number() over (order by at desc) n from traceability.finding
                where kind = 'clock-doubtful' and at > now() - interval '1 day') q
            """,
            static (count, units) => $"{count} records of the last day came from terminals whose clock was off by more than the bound, last those of {units}.",
            "Set the clock of the terminal (GET /api/findings?kind=clock-doubtful names the records), best by a time service. What it recorded counts as doubtful."),
    ];
}
