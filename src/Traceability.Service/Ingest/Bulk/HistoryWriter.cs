using Npgsql;
using Traceability.Service.Storage;
using Traceability.Service.Storage.Containments;

namespace Traceability.Service.Ingest.Bulk;

/// <summary>Stores a plan of many facts in one transaction, by binary COPY where rows are new. The same locks and checks as <see cref="GroupWriter"/>.</summary>
internal static class HistoryWriter
{
    private const string Events = "events";
    private const string Live = "traceability";

    private sealed record NewEvent(long Seq, Append Append, byte[] Json);

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

    private static readonly Statement<UnitDraft> Update = UnitRowWriter.Units.Checked(UnitRowWriter.Update, StoredRequirement.Unit);

    private static readonly Statement<(string Subject, string Unit)> LookAt =
        UnitRowWriter.Dependencies.InsertInto("traceability.dependency", "on conflict do nothing");

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
        var streams = EventAppender.StreamsOf(plan.Appends).ToLookup(s => s.Before == 0);
        UnitDraft[] units = [.. plan.Judged];
        BulkUnit[] rows =
            [.. units.Select(u => new BulkUnit(u.Unit, u.Rows!, u.Stored.Judgement + 1, u.Stored.Judgement == 0 ? u.NewDependencies : [], u.Stored.Rows))];
        await using var transaction = await connection.BeginTransactionAsync(cancellation);
        try
        {
            await SendAsync(connection, batch => batch.BatchCommands.Add(GroupWriter.Hold(plan)), cancellation);

            // Receipts before streams, as a group commit has them: two that meet wait for each other. A stream that is there by now
            // is refused by the table's key.
            await OwnThread.RunAsync(
                () => Receipts.Write(connection, Live, plan.Appends) + Streams.Write(connection, Events, streams[true]), cancellation);
            await SendAsync(connection, batch => AddGrown(batch, [.. streams[false]], [.. units.Where(u => u.Stored.Judgement > 0)]), cancellation);
            var numbers = await NumbersAsync(connection, plan.Appends.Count, cancellation);
            await OwnThread.RunAsync(
                () =>
                {
                    NewEvents.Write(connection, Events, plan.Appends.Select((a, i) => new NewEvent(numbers[i], a, FactCodec.SerializeToUtf8(a.Fact))));
                    UnitTables.Units.Write(connection, Live, rows.Where(u => u.Judgement == 1));
                    UnitTables.WriteRows(connection, Live, rows);
                    NewYieldChanges.Write(connection, Live, rows);
                },
                cancellation);
            await SendAsync(connection, batch => AddRequests(batch, plan), cancellation);
            await transaction.CommitAsync(cancellation);
        }
        catch (PostgresException exception) when (exception.SqlState == StoredRequirement.SqlState)
        {
            throw new StalePlanException(exception.MessageText);
        }
    }

    // Streams and units that are there, each at what was read of it, and rows that are no more.
    private static void AddGrown(NpgsqlBatch batch, StreamVersion[] streams, UnitDraft[] units)
    {
        Grow.AddTo(batch, streams);
        Update.AddTo(batch, units);
        UnitRowWriter.AddDeletes(batch, units);

        // A row that is there already, though nothing that was read names it, must not keep the facts from being stored.
        LookAt.AddTo(batch, [.. units.SelectMany(u => u.NewDependencies.Select(d => (d, u.Name)))]);
    }

    private static async Task<long[]> NumbersAsync(NpgsqlConnection connection, int count, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand("select array_agg(nextval('events.mt_events_sequence')) from generate_series(1, $1)", connection)
        {
            Parameters = { new() { Value = count } },
        };
        return await command.ExecuteScalarAsync(cancellation) as long[] ?? [];
    }

    private static void AddRequests(NpgsqlBatch batch, GroupPlan plan)
    {
        var references = plan.ChangedReferences.ToArray();
        if (references.Length > 0)
        {
            ReferenceChanges.Add(batch, references, plan);
        }

        ContainmentRows.Add(batch, ReferenceDecisions.ContainmentsOf(plan));
        RejudgeRequests.Add(batch, plan);
    }

    private static async Task SendAsync(NpgsqlConnection connection, Action<NpgsqlBatch> fill, CancellationToken cancellation)
    {
        await using var batch = new NpgsqlBatch(connection);
        fill(batch);
        if (batch.BatchCommands.Count > 0)
        {
            await batch.ExecuteNonQueryAsync(cancellation);
        }
    }
}
