using Npgsql;
using Traceability.Domain.Cure;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Sites;
using Traceability.Service.Storage;
using Traceability.Service.Storage.Containments;

namespace Traceability.Service.Ingest;

/// <summary>Something was stored that the plan did not see. Nothing was written: plan anew.</summary>
/// <param name="what">What did not hold: a <see cref="StoredRequirement"/>.</param>
internal sealed class StalePlanException(string what) : Exception($"The database holds something that the plan did not see ({what}).")
{
    /// <summary>A fact was stored before; the units are as they were read.</summary>
    public bool IsRepeat => what == StoredRequirement.Receipt;

    /// <summary>Something that judgements look at changed; the units are as they were read.</summary>
    public bool IsClock => what == StoredRequirement.Clock;
}

/// <summary>Stores a plan in one transaction: events, receipts, the units' rows and what follows from them, or nothing.</summary>
internal static class GroupWriter
{
    /// <summary>The lock that the function hold takes: group commits share it until they have committed.</summary>
    public const long ReferenceLockKey = 7_270_002;

    /// <summary>Writes and commits; throws <see cref="StalePlanException"/> when the plan no longer fits.</summary>
    /// <remarks>
    /// One round trip: statements that are sent together are one transaction, which ends with the last of them. So whatever must
    /// hold is required by the statements themselves. Each sees what others committed before it began, as READ COMMITTED has it.
    /// </remarks>
    public static async Task WriteAsync(NpgsqlConnection connection, GroupPlan plan, CancellationToken cancellation)
    {
        await using var batch = new NpgsqlBatch(connection);
        var references = plan.ChangedReferences.ToArray();
        var units = plan.Judged.ToArray();
        var streams = EventAppender.StreamsOf(plan.Appends);
        batch.BatchCommands.Add(Hold(plan));
        GroupStatement.AddTo(batch, plan.Appends, streams, units);
        EventAppender.AddOpened(batch, streams);
        UnitRowWriter.AddRest(batch, units);
        if (references.Length > 0)
        {
            ReferenceChanges.Add(batch, references, plan);
        }

        ContainmentRows.Add(batch, ReferenceDecisions.ContainmentsOf(plan));
        RejudgeRequests.Add(batch, plan);
        try
        {
            await batch.ExecuteNonQueryAsync(cancellation);
        }
        catch (PostgresException exception) when (exception.SqlState == StoredRequirement.SqlState)
        {
            throw new StalePlanException(exception.MessageText);
        }
        catch (PostgresException exception) when (exception is { SqlState: PostgresErrorCodes.UniqueViolation, ConstraintName: "receipt_pkey" })
        {
            throw new StalePlanException(StoredRequirement.Receipt);
        }
    }

    /// <summary>Holds off what would change what the plan rests on, and requires that nothing has.</summary>
    public static NpgsqlBatchCommand Hold(GroupPlan plan) => new("select traceability.hold($1, $2)")
    {
        Parameters =
        {
            new NpgsqlParameter<long> { TypedValue = plan.ReferenceSeq },
            new NpgsqlParameter<bool> { TypedValue = plan.ChangedReferences.Any() },
        },
    };
}

/// <summary>Notes that streams which judgements look at have changed.</summary>
internal static class ReferenceChanges
{
    private static readonly Statement<(string Stream, long Seq)> Note = new Columns<(string Stream, long Seq)>()
        .Text("stream", r => r.Stream)
        .Text("kind", r => r.Stream[..r.Stream.IndexOf('/', StringComparison.Ordinal)])
        .Bigint("seq", r => r.Seq)
        .InsertInto("traceability.reference_stream", "on conflict (stream) do update set seq = excluded.seq");

    /// <summary>Adds the statements.</summary>
    public static void Add(NpgsqlBatch batch, IReadOnlyCollection<ReferenceDraft> changed, GroupPlan plan)
    {
        batch.BatchCommands.Add(new("update traceability.reference_clock set seq = seq + 1"));
        var seq = plan.ReferenceSeq + 1;

        // What is split off a batch changes what is known of that one, too.
        Fact[] facts = [.. changed.SelectMany(r => r.Facts.Skip(r.StoredVersion)).Select(f => f.Fact)];
        var streams = changed.Select(r => r.Stream).Concat(facts.Select(BatchTaking.SplitOf).OfType<Domain.Batches.BatchSplit>().Select(s => StreamNames.Of(s.From)));
        batch.BatchCommands.Add(Note.Of([.. streams.Distinct(StringComparer.Ordinal).Select(s => (s, seq))]));
        BatchTaking.Add(batch, facts);
        LotNaming.Add(batch, changed.Where(r => r.Stream.StartsWith(StreamNames.LotPrefix, StringComparison.Ordinal)).SelectMany(r => r.Facts.Skip(r.StoredVersion)).Select(f => f.Fact));
    }
}

/// <summary>Asks for units to be judged again when something that they look at has changed, and strikes off what was done.</summary>
internal static class RejudgeRequests
{
    private const string Ask = "insert into traceability.rejudge (unit, asked_at) select distinct f.unit, $2::timestamptz from (";
    private const string Renew = ") f on conflict (unit) do update set asked_at = excluded.asked_at";

    private static readonly Statement<PendingRejudge> StrikeOff = new Columns<PendingRejudge>()
        .Text("unit", r => r.Unit)
        .Time("asked_at", r => r.AskedAt)
        .Statement("delete from traceability.rejudge q using {rows} where q.unit = r.unit and q.asked_at = r.asked_at");

    private static readonly Statement<(string Unit, string Subject, int Version, DateTimeOffset At)> AskNamed =
        new Columns<(string Unit, string Subject, int Version, DateTimeOffset At)>()
            .Text("unit", n => n.Unit)
            .Text("subject", n => n.Subject)
            .Bigint("version", n => n.Version)
            .Time("asked_at", n => n.At)
            .Statement(
                """
                with named as (select * from {rows}), held as (
                  select s.id, s.version from events.mt_streams s where s.id in (select subject from named) order by s.id for no key update)
                insert into traceability.rejudge (unit, asked_at)
                select distinct n.unit, n.asked_at from named n join held h on h.id = n.subject where h.version <> n.version
                on conflict (unit) do update set asked_at = excluded.asked_at
                """);

    private static readonly Statement<(Domain.Primitives.UnitKey Component, Domain.Primitives.UnitKey Parent, DateTimeOffset At)> AskMoved =
        new Columns<(Domain.Primitives.UnitKey Component, Domain.Primitives.UnitKey Parent, DateTimeOffset At)>()
            .Text("subject", m => StreamNames.Of(m.Component))
            .Text("parent", m => m.Parent.ToString())
            .Time("asked_at", m => m.At)
            .Statement(
                """
                insert into traceability.rejudge (unit, asked_at)
                select distinct d.unit, r.asked_at from {rows} join traceability.dependency d on d.subject = r.subject
                where d.unit <> r.parent or exists (select 1 from traceability.dependency o where o.subject = r.subject and o.unit <> r.parent)
                on conflict (unit) do update set asked_at = excluded.asked_at
                """);

    private static readonly Statement<(string Place, DateTimeOffset From, DateTimeOffset To, DateTimeOffset At)> AskCuring =
        new Columns<(string Place, DateTimeOffset From, DateTimeOffset To, DateTimeOffset At)>()
            .Text("place", r => r.Place)
            .Time("read_from", r => r.From)
            .Time("read_to", r => r.To)
            .Time("asked_at", r => r.At)
            .Statement(
                """
                insert into traceability.rejudge (unit, asked_at)
                select distinct w.unit, r.asked_at from {rows} join traceability.cure_window w
                  on w.place = r.place and w.looked_to >= r.read_from and w.looked_from <= r.read_to
                on conflict (unit) do update set asked_at = excluded.asked_at
                """);

    // The batch's stream is held until the end of the transaction: of two that take units out of it at once, the later one counts both.
    private static readonly Statement<(string Subject, int Parts, DateTimeOffset At)> AskTaken =
        new Columns<(string Subject, int Parts, DateTimeOffset At)>()
            .Text("subject", t => t.Subject)
            .Integer("parts", t => t.Parts)
            .Time("asked_at", t => t.At)
            .Statement(
                """
                insert into traceability.rejudge (unit, asked_at)
                select distinct d.unit, r.asked_at from {rows} join traceability.dependency d on d.subject = r.subject
                where (select count(*) from traceability.dependency o where o.subject = r.subject) > r.parts
                on conflict (unit) do update set asked_at = excluded.asked_at
                """);

    /// <summary>Adds the statements.</summary>
    public static void Add(NpgsqlBatch batch, GroupPlan plan)
    {
        if (plan.Rejudges.Count > 0)
        {
            batch.BatchCommands.Add(StrikeOff.Of(plan.Rejudges));
        }

        AddNewlyNamed(batch, plan);
        var changed = plan.Appends.Select(a => a.Stream).Distinct(StringComparer.Ordinal).ToArray();
        Add(batch, plan, "select d.unit from traceability.dependency d where d.subject = any($1)", changed);
        Add(batch, plan, LotNaming.UnitsOf, Names(plan, StreamNames.LotPrefix));
        Add(batch, plan, BatchTaking.UnitsOf, Names(plan, StreamNames.BatchPrefix));
        AddTaken(batch, plan);
        Add(batch, plan, "select s.unit from traceability.step_result s where s.person = any($1)", Names(plan, StreamNames.PersonPrefix));
        Add(batch, plan, "select t.unit from traceability.tool_usage t where t.tool = any($1)", Names(plan, StreamNames.ToolPrefix));
        AddMoved(batch, plan);
        AddCuring(batch, plan);
        Add(batch, plan, "select u.unit from traceability.unit u where u.item = any($1)", Names(plan, "routing/"));
        Add(batch, plan, "select m.unit from traceability.material_usage m where m.item = any($1)", Names(plan, "item/"));
        Add(batch, plan, LotNaming.UnitsOfMixesWith, Names(plan, "item/"));
        Add(
            batch,
            plan,
            """
            select f.unit from traceability.finding f where f.kind in ('defect-unknown', 'defect-reported') and f.rule = any($1)
            union select n.unit from traceability.nonconformance n where n.defect = any($1)
            """,
            Names(plan, "defect/"));

        // A site's time zone and a station's site move the day of every step and every decision made there, and no row says
        // where a decision was made. Both are redefined once in years.
        Add(batch, plan, "select u.unit from traceability.unit u where $1::text[] is not null", [.. DaysMovedBy(plan)]);
    }

    // A unit names a component for the first time while another instance may be writing about that component, or naming it too.
    // Holding the component's stream, one of the two sees what the other has written, and asks.
    private static void AddNewlyNamed(NpgsqlBatch batch, GroupPlan plan)
    {
        var named = plan.Judged
            .SelectMany(u => u.NewDependencies.Where(d => d.StartsWith(StreamNames.UnitPrefix, StringComparison.Ordinal)).Select(d => (Unit: u.Unit.Key.ToString(), Subject: d)))
            .ToArray();
        if (named.Length > 0)
        {
            batch.BatchCommands.Add(AskNamed.Of([.. named.Select(n => (n.Unit, n.Subject, VersionOf(plan, n.Subject), plan.RecordedAt))]));
        }
    }

    // A unit that was taken out of a batch, or of which that is corrected: where there may be more of them than there were parts, all are judged again.
    private static void AddTaken(NpgsqlBatch batch, GroupPlan plan)
    {
        (string Subject, int Parts, DateTimeOffset At)[] taken = [.. plan.Taken.Select(t => (t.Key, t.Value, plan.RecordedAt))];
        if (taken.Length > 0)
        {
            batch.BatchCommands.Add(new("select 1 from events.mt_streams where id = any($1) order by id for no key update")
            {
                Parameters = { new() { Value = taken.Select(t => t.Subject).ToArray(), NpgsqlDbType = NpgsqlTypes.NpgsqlDbType.Array | NpgsqlTypes.NpgsqlDbType.Varchar } },
            });
            batch.BatchCommands.Add(AskTaken.Of(taken));
        }
    }

    // A reading asks for the units that looked at the temperatures of its place over a time that it lies in. What a correction or a
    // void changes may be any reading of the day.
    private static void AddCuring(NpgsqlBatch batch, GroupPlan plan)
    {
        List<(string Place, DateTimeOffset From, DateTimeOffset To, DateTimeOffset At)> read = [];
        foreach (var draft in plan.ChangedReferences.Where(r => r.Stream.StartsWith(StreamNames.TemperaturePrefix, StringComparison.Ordinal)))
        {
            var news = draft.Facts.Skip(draft.StoredVersion);
            var changed = news.Any(f => f.Fact is not TemperatureRecorded) ? draft.Facts : news;
            DateTimeOffset[] times = [.. changed.SelectMany(f => TimesOf(f.Fact))];
            if (times.Length > 0)
            {
                read.Add((draft.Stream.Split('/')[1], times.Min(), times.Max(), plan.RecordedAt));
            }
        }

        if (read.Count > 0)
        {
            batch.BatchCommands.Add(AskCuring.Of(read));
        }
    }

    private static IEnumerable<DateTimeOffset> TimesOf(Fact fact) => fact switch
    {
        TemperatureRecorded t => t.Readings.Select(r => Instant.Shift(r.At, t.Clock.Offset)),
        RecordCorrected c => TimesOf(c.Replacement),
        _ => [],
    };

    private static int VersionOf(GroupPlan plan, string subject) =>
        plan.Units.GetValueOrDefault(subject)?.Unit.Version ?? plan.ComponentVersions.GetValueOrDefault(subject);

    // A component that came or went: the other units that name it look at where it is.
    private static void AddMoved(NpgsqlBatch batch, GroupPlan plan)
    {
        if (plan.Moved.Count > 0)
        {
            batch.BatchCommands.Add(AskMoved.Of([.. plan.Moved.Select(m => (m.Component, m.Parent, plan.RecordedAt))]));
        }
    }

    private static void Add(NpgsqlBatch batch, GroupPlan plan, string select, string[] names)
    {
        if (names.Length > 0)
        {
            batch.BatchCommands.Add(new(Ask + select + Renew)
            {
                Parameters =
                {
                    new() { Value = names, NpgsqlDbType = NpgsqlTypes.NpgsqlDbType.Array | NpgsqlTypes.NpgsqlDbType.Text },
                    new() { Value = plan.RecordedAt.UtcDateTime, NpgsqlDbType = NpgsqlTypes.NpgsqlDbType.TimestampTz },
                },
            });
        }
    }

    // What moves days; a description that is put better doesn't.
    private static IEnumerable<string> DaysMovedBy(GroupPlan plan) =>
        plan.ChangedReferences
            .Where(r => r.StoredVersion > 0
                && (r.Stream.StartsWith("site/", StringComparison.Ordinal) || r.Stream.StartsWith("station/", StringComparison.Ordinal))
                && !HaveSameDays(References.Fold(r.Stream, r.Facts[..r.StoredVersion]), References.Fold(r.Stream, r.Facts)))
            .Select(r => r.Stream);

    private static bool HaveSameDays(object? before, object? after) => (before, after) switch
    {
        (StationDefined one, StationDefined other) => one.Site == other.Site,
        (SiteDefined one, SiteDefined other) => string.Equals(one.TimeZone, other.TimeZone, StringComparison.Ordinal),
        _ => false,
    };

    // A definition that is new can't have been looked at, except a routing, which may now apply to units that had none, and
    // what units name before it is known.
    private static string[] Names(GroupPlan plan, string prefix) =>
        [.. plan.ChangedReferences
            .Where(r => r.Stream.StartsWith(prefix, StringComparison.Ordinal) && (r.StoredVersion > 0 || prefix is "routing/" or "defect/" or StreamNames.LotPrefix or StreamNames.BatchPrefix or StreamNames.PersonPrefix or StreamNames.ToolPrefix))
            .Select(r => r.Stream[prefix.Length..])];
}
