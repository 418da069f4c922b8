using Npgsql;
using NpgsqlTypes;
using Traceability.Domain.Batches;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;

namespace Traceability.Service.Storage;

/// <summary>Which batches name a batch that they were split off, and which units were taken out of it.</summary>
internal static class BatchTaking
{
    /// <summary>The units that look at one of these batches ($1: a text[] of item/batch), as the column unit: those of the batches around it.</summary>
    /// <remarks>A unit looks at what its batch was split off, at any depth, and at what was split off that or the batch itself.</remarks>
    public const string UnitsOf =
        """
        select d.unit from (
            with recursive around (batch) as (
                select unnest($1::text[])
                union select n.source from traceability.batch_naming n where n.batch = any($1)),
            made (batch) as (
                select batch from around
                union select n.batch from made m cross join lateral (
                    select batch from traceability.batch_naming where source = m.batch offset 0) n)
            select d.unit from made cross join lateral (
                select unit from traceability.dependency where subject = 'batch/' || made.batch offset 0) d) d
        """;

    private static readonly Statement<(string Source, string Batch)> Insert = new Columns<(string Source, string Batch)>()
        .Text("source", n => n.Source)
        .Text("batch", n => n.Batch)
        .InsertInto("traceability.batch_naming", "on conflict do nothing");

    /// <summary>Adds the statement that notes what facts about batches name; none where they name nothing.</summary>
    public static void Add(NpgsqlBatch batch, IEnumerable<Fact> facts) =>
        Insert.AddTo(batch, [.. facts.Select(SplitOf).OfType<BatchSplit>().Select(s => (s.From.ToString(), s.Batch.ToString())).Distinct()]);

    /// <summary>The split that a fact tells; null for any other.</summary>
    public static BatchSplit? SplitOf(Fact fact) => fact switch
    {
        BatchSplit split => split,
        RecordCorrected { Replacement: BatchSplit split } => split,
        _ => null,
    };

    /// <summary>The streams of the batches that name one of these as what they were split off, or did.</summary>
    public static async Task<List<string>> SplitFromAsync(NpgsqlConnection connection, IReadOnlyCollection<BatchKey> batches, CancellationToken cancellation)
    {
        var names = new List<string>();
        if (batches.Count > 0)
        {
            await using var command = Command(connection, "select batch from traceability.batch_naming where source = any($1)", [.. batches.Select(b => b.ToString())]);
            await using var reader = await command.ExecuteReaderAsync(cancellation);
            while (await reader.ReadAsync(cancellation))
            {
                names.Add(StreamNames.BatchPrefix + reader.GetString(0));
            }
        }

        return names;
    }

    /// <summary>The references with the units that were taken out of the batches that units name, where they may be more than there were parts.</summary>
    /// <param name="connection">Gives the view.</param>
    /// <param name="known">The references; they know the batches.</param>
    /// <param name="names">The names of streams that the units name.</param>
    /// <param name="more">How many units may name a batch that the database doesn't know of yet.</param>
    /// <param name="schema">Whose table of what units name is read.</param>
    /// <param name="cancellation">Gives up.</param>
    public static async Task<References> WithTakenAsync(
        NpgsqlConnection connection, References known, IEnumerable<string> names, int more, string schema, CancellationToken cancellation)
    {
        var batches = names.Where(n => n.StartsWith(StreamNames.BatchPrefix, StringComparison.Ordinal)).Distinct(StringComparer.Ordinal)
            .Select(n => known.FindBatch(BatchKey.Parse(n[StreamNames.BatchPrefix.Length..]))).OfType<Batch>().ToArray();
        if (batches.Length == 0)
        {
            return known;
        }

        // A name is kept when an opening is corrected, so there are at most as many units as names.
        var counts = new Dictionary<string, long>(StringComparer.Ordinal);
        await using (var command = Command(connection, $"select subject, count(*) from {schema}.dependency where subject = any($1) group by subject", [.. batches.Select(b => StreamNames.Of(b.Key))]))
        {
            await using var reader = await command.ExecuteReaderAsync(cancellation);
            while (await reader.ReadAsync(cancellation))
            {
                counts[reader.GetString(0)] = reader.GetInt64(1);
            }
        }

        BatchKey[] full = [.. batches.Where(b => BatchCounts.ForUnits(b, known) is { } parts && counts.GetValueOrDefault(StreamNames.Of(b.Key)) + more > parts).Select(b => b.Key)];
        if (full.Length > 0)
        {
            foreach (var batch in await UnitsOfAsync(connection, full, cancellation, schema))
            {
                known = known.WithTaken(batch.Key, [.. batch]);
            }
        }

        return known;
    }

    /// <summary>The units whose opening names one of these batches, by batch.</summary>
    public static async Task<ILookup<BatchKey, UnitTaken>> UnitsOfAsync(
        NpgsqlConnection connection, IReadOnlyCollection<BatchKey> batches, CancellationToken cancellation, string schema = "traceability")
    {
        var streams = new HashSet<string>(StringComparer.Ordinal);
        await using (var command = Command(connection, $"select unit from {schema}.dependency where subject = any($1)", [.. batches.Select(StreamNames.Of)]))
        {
            await using var reader = await command.ExecuteReaderAsync(cancellation);
            while (await reader.ReadAsync(cancellation))
            {
                streams.Add(StreamNames.UnitPrefix + reader.GetString(0));
            }
        }

        var facts = await EventReader.LoadAsync(connection, streams, cancellation);
        return facts.Select(f => UnitTaken.Of(ProductUnit.Of(UnitKey.Parse(f.Key[StreamNames.UnitPrefix.Length..]), f.Value))).OfType<UnitTaken>()
            .Where(t => batches.Contains(t.Batch))
            .OrderBy(t => t.Unit.ToString(), StringComparer.Ordinal)
            .ToLookup(t => t.Batch);
    }

    private static NpgsqlCommand Command(NpgsqlConnection connection, string sql, string[] names) =>
        new(sql, connection) { Parameters = { new() { Value = names, NpgsqlDbType = NpgsqlDbType.Array | NpgsqlDbType.Text } } };
}
