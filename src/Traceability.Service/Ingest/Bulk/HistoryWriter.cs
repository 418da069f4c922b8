using Npgsql;
using Traceability.Service.Storage;
using Traceability.Service.Storage.Containments;

namespace Traceability.Service.Ingest.Bulk;

/// <summary>Stores a plan of many facts in one transaction, by binary COPY where rows are new. The same locks and checks as <see cref="GroupWriter"/>.</summary>
internal static class HistoryWriter
{
    private const string Events = "events";
    private const string Live = "traceability";

    private sealed record NewEvent(long Seq, Append Append, string Json);

    private static readonly CopyTable<Append> Receipts = new CopyTable<Append>("receipt")
        .Uuid("fact_id", a => a.Posted.Id)
        .Bytes("content_hash", a => a.Posted.ContentHash)
        .Text("stream", a => a.Stream)
        .Integer("version", a => a.Version)
        .Time("recorded_at", a => a.RecordedAt);

    private static readonly CopyTable<StreamVersion> Streams = new CopyTable<StreamVersion>("mt_streams")
        .Text("id", s => s.Stream)
        .Bigint("version", s => s.After)
        .Time("timestamp", s => s.At)
        .Time("created", s => s.At);

    private static readonly Statement<StreamVersion> Grow = EventAppender.Streams.Checked(EventAppender.Grow, StoredRequirement.Stream);

    private static readonly CopyTable<NewEvent> NewEvents = new CopyTable<NewEvent>("mt_events")
        .Bigint("seq_id", e => e.Seq)
        .Uuid("id", e => e.Append.Posted.Id)
        .Text("stream_id", e => e.Append.Stream)
        .Bigint("version", e => e.Append.Version)
        .Json("data", e => e.Json)
        .Text("type", e => EventNames.Of(e.Append.Fact.GetType()))
        .Time("timestamp", e => e.Append.RecordedAt)
        .Text("mt_dotnet_type", e => EventAppender.DotNetTypeOf(e.Append.Fact));

    /// <summary>Writes and commits; throws <see cref="StalePlanException"/> when the plan no longer fits.</summary>
    public static async Task WriteAsync(NpgsqlConnection connection, GroupPlan plan, CancellationToken cancellation)
    {
        // What takes time and no lock comes before the transaction.
        var json = new string[plan.Appends.Count];
        await OwnThread.RunAsync(() => Parallel.For(0, json.Length, i => json[i] = FactCodec.Serialize(plan.Appends[i].Fact)), cancellation);
        await using var transaction = await connection.BeginTransactionAsync(cancellation);
        try
        {
            await CheckAsync(connection, plan, cancellation);
            await OwnThread.RunAsync(() => Receipts.Write(connection, Live, plan.Appends), cancellation);
            await WriteStreamsAsync(connection, plan, cancellation);
            var numbers = await NumbersAsync(connection, json.Length, cancellation);
            await OwnThread.RunAsync(() => NewEvents.Write(connection, Events, plan.Appends.Select((a, i) => new NewEvent(numbers[i], a, json[i]))), cancellation);
            await WriteUnitsAsync(connection, [.. plan.Judged], cancellation);
            await WriteRequestsAsync(connection, plan, cancellation);
            await transaction.CommitAsync(cancellation);
        }
        catch (PostgresException exception) when (exception.SqlState == StoredRequirement.SqlState)
        {
            throw new StalePlanException(exception.MessageText);
        }
    }

    private static async Task CheckAsync(NpgsqlConnection connection, GroupPlan plan, CancellationToken cancellation)
    {
        await using var batch = new NpgsqlBatch(connection);
        batch.BatchCommands.Add(GroupWriter.Hold(plan));
        await batch.ExecuteNonQueryAsync(cancellation);
    }

    private static async Task WriteStreamsAsync(NpgsqlConnection connection, GroupPlan plan, CancellationToken cancellation)
    {
        var streams = EventAppender.StreamsOf(plan.Appends).ToLookup(s => s.Before == 0);

        // One that is there by now is refused by the table's key.
        await OwnThread.RunAsync(() => Streams.Write(connection, Events, streams[true]), cancellation);
        if (streams[false].Any())
        {
            await using var batch = new NpgsqlBatch(connection);
            Grow.AddTo(batch, [.. streams[false]]);
            await batch.ExecuteNonQueryAsync(cancellation);
        }
    }

    private static async Task<long[]> NumbersAsync(NpgsqlConnection connection, int count, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand("select array_agg(nextval('events.mt_events_sequence')) from generate_series(1, $1)", connection)
        {
            Parameters = { new() { Value = count } },
        };
        return await command.ExecuteScalarAsync(cancellation) as long[] ?? [];
    }

    private static async Task WriteUnitsAsync(NpgsqlConnection connection, IReadOnlyList<UnitDraft> units, CancellationToken cancellation)
    {
        BulkUnit[] news = [.. units.Where(u => u.Stored.Unit.Version == 0).Select(u => new BulkUnit(u.Unit, u.Rows!, u.Stored.Judgement + 1, u.NewDependencies))];
        await OwnThread.RunAsync(() => UnitTables.Write(connection, Live, news), cancellation);
        await using var batch = new NpgsqlBatch(connection);
        if (news.Length > 0)
        {
            var names = news.Select(u => u.Name).ToArray();
            foreach (var sql in new[] { YieldChanges.Steps(Live, "step_yield_change", 1, "where unit = any($1)"), YieldChanges.Units(Live, "unit_yield_change", 1, "where unit = any($1)") })
            {
                batch.BatchCommands.Add(new(sql) { Parameters = { new() { Value = names, NpgsqlDbType = NpgsqlTypes.NpgsqlDbType.Array | NpgsqlTypes.NpgsqlDbType.Text } } });
            }
        }

        UnitDraft[] grown = [.. units.Where(u => u.Stored.Unit.Version > 0)];
        if (grown.Length > 0)
        {
            UnitRowWriter.Add(batch, grown);
        }

        if (batch.BatchCommands.Count > 0)
        {
            await batch.ExecuteNonQueryAsync(cancellation);
        }
    }

    private static async Task WriteRequestsAsync(NpgsqlConnection connection, GroupPlan plan, CancellationToken cancellation)
    {
        await using var batch = new NpgsqlBatch(connection);
        var references = plan.ChangedReferences.ToArray();
        if (references.Length > 0)
        {
            ReferenceChanges.Add(batch, references, plan);
        }

        ContainmentRows.Add(batch, ReferenceDecisions.ContainmentsOf(plan));
        RejudgeRequests.Add(batch, plan);
        if (batch.BatchCommands.Count > 0)
        {
            await batch.ExecuteNonQueryAsync(cancellation);
        }
    }
}
