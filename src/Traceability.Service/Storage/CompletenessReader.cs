using Npgsql;
using NpgsqlTypes;
using Traceability.Contracts;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Storage;

/// <summary>Says what may be missing from an answer that is made from the tables.</summary>
internal static class CompletenessReader
{
    /// <summary>The most units and streams that are named; the numbers hold all.</summary>
    public const int ShownMax = 20;

    // Both tables are empty but in trouble, and the units that are touched have an index of their own.
    private const string Sql =
        """
        with touched as (
            select unit from traceability.unit where has_unreadable and ($1::text is null or item = $1)),
        records as (
            select stream, seq_id from traceability.unreadable_event
            where $1::text is null or starts_with(stream, $2) or (not starts_with(stream, 'unit/') and exists (select from touched)))
        select (select count(*)::integer from touched), array(select unit from touched order by unit limit $3),
            (select count(*)::integer from records), array(select distinct stream from records order by stream limit $3),
            (select count(*)::integer from (
                select from traceability.rejudge where $1::text is null or starts_with(unit, $1 || '/') limit 10000) q)
        """;

    /// <summary>Of an answer about the units of an item, or about all units.</summary>
    public static async Task<Completeness> ReadAsync(NpgsqlConnection connection, ItemNumber? item, CancellationToken cancellation)
    {
        await using var batch = new NpgsqlBatch(connection) { BatchCommands = { Command(item) } };
        await using var reader = await batch.ExecuteReaderAsync(cancellation);
        return await ReadAsync(reader, cancellation);
    }

    /// <summary>The statement that asks for it, for a batch.</summary>
    public static NpgsqlBatchCommand Command(ItemNumber? item) => new(Sql)
    {
        Parameters =
        {
            new() { Value = (object?)item?.Value ?? DBNull.Value, NpgsqlDbType = NpgsqlDbType.Text },
            new() { Value = $"{StreamNames.UnitPrefix}{item}/" },
            new() { Value = ShownMax },
        },
    };

    /// <summary>Reads its result.</summary>
    public static async Task<Completeness> ReadAsync(NpgsqlDataReader reader, CancellationToken cancellation)
    {
        await reader.ReadAsync(cancellation);
        var (units, records, pending) = (reader.GetInt32(0), reader.GetInt32(2), reader.GetInt32(4));
        return new(
            units == 0 && records == 0 && pending == 0,
            units,
            reader.GetFieldValue<string[]>(1),
            records,
            reader.GetFieldValue<string[]>(3),
            pending);
    }

    /// <summary>Of an answer about one unit that was judged at the moment of asking.</summary>
    public static Completeness Of(JudgedUnit judged)
    {
        var judgement = judged.Judgement;
        var isTouched = judgement.Status.HasUnreadable;
        var own = judged.Unit.Facts.Count(f => f.Fact is UnreadableFact);
        var others = judgement.Unreadable.Count(s => !string.Equals(s, StreamNames.Of(judgement.Unit), StringComparison.Ordinal));
        return new(!isTouched, isTouched ? 1 : 0, isTouched ? [judgement.Unit.ToString()] : [], own + others, [.. judgement.Unreadable.Take(ShownMax)], 0);
    }

    /// <summary>Of several answers together.</summary>
    public static Completeness All(IReadOnlyCollection<Completeness> parts) => new(
        parts.All(p => p.IsComplete),
        parts.Sum(p => p.UnreadableUnits),
        [.. parts.SelectMany(p => p.UnreadableUnitsShown).Distinct(StringComparer.Ordinal).Take(ShownMax)],
        parts.Sum(p => p.UnreadableRecords),
        [.. parts.SelectMany(p => p.UnreadableStreamsShown).Distinct(StringComparer.Ordinal).Take(ShownMax)],
        parts.Sum(p => p.RejudgementsPending));
}
