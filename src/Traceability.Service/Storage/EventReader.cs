using Npgsql;
using NpgsqlTypes;
using Traceability.Domain.Facts;

namespace Traceability.Service.Storage;

/// <summary>Reads streams of facts. Total: an event that can't be read comes back as an <see cref="UnreadableFact"/>, in its place.</summary>
internal static class EventReader
{
    /// <summary>What is read of an event.</summary>
    public const string Columns = "stream_id, id, type, data::text, timestamp, version";

    /// <summary>The facts of the streams, in order of arrival; a stream that isn't there is left out.</summary>
    public static async Task<Dictionary<string, ImmutableArray<RecordedFact>>> LoadAsync(
        NpgsqlConnection connection, IReadOnlyCollection<string> streams, CancellationToken cancellation)
    {
        if (streams.Count == 0)
        {
            return new(StringComparer.Ordinal);
        }

        await using var batch = new NpgsqlBatch(connection) { BatchCommands = { Query(streams) } };
        await using var reader = await batch.ExecuteReaderAsync(cancellation);
        return await ReadAsync(reader, cancellation);
    }

    /// <summary>The query for these streams, to be sent with others; <see cref="ReadAsync"/> reads its answer.</summary>
    public static NpgsqlBatchCommand Query(IReadOnlyCollection<string> streams) => new($"select {Columns} from events.mt_events where stream_id = any($1)")
    {
        Parameters = { new() { Value = streams.ToArray(), NpgsqlDbType = NpgsqlDbType.Array | NpgsqlDbType.Varchar } },
    };

    /// <summary>The facts of a stream after its first so many.</summary>
    public static async Task<ImmutableArray<RecordedFact>> LoadAfterAsync(NpgsqlConnection connection, string stream, long version, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand($"select {Columns} from events.mt_events where stream_id = $1 and version > $2", connection)
        {
            Parameters =
            {
                new() { Value = stream, NpgsqlDbType = NpgsqlDbType.Varchar },
                new() { Value = version, NpgsqlDbType = NpgsqlDbType.Bigint },
            },
        };
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        return (await ReadAsync(reader, cancellation)).GetValueOrDefault(stream, []);
    }

    /// <summary>Reads the facts of a result that has <see cref="Columns"/>, in any order.</summary>
    public static async Task<Dictionary<string, ImmutableArray<RecordedFact>>> ReadAsync(NpgsqlDataReader reader, CancellationToken cancellation)
    {
        var found = new Dictionary<string, List<(long Version, RecordedFact Fact)>>(StringComparer.Ordinal);
        while (await reader.ReadAsync(cancellation))
        {
            var stream = reader.GetString(0);
            if (!found.TryGetValue(stream, out var facts))
            {
                found[stream] = facts = [];
            }

            var recordedAt = reader.GetFieldValue<DateTimeOffset>(4);
            var fact = FactCodec.Deserialize(reader.GetString(2), reader.GetFieldValue<byte[]>(3), recordedAt);
            facts.Add((reader.GetInt64(5), new(reader.GetGuid(1), fact, recordedAt)));
        }

        return found.OrderBy(f => f.Key, StringComparer.Ordinal).ToDictionary(f => f.Key, f => InOrder(f.Value), StringComparer.Ordinal);
    }

    // The index brings them in order, nearly always: sorting all of them in the database, by a long text, costs more.
    private static ImmutableArray<RecordedFact> InOrder(List<(long Version, RecordedFact Fact)> facts)
    {
        for (var i = 1; i < facts.Count; i++)
        {
            if (facts[i].Version < facts[i - 1].Version)
            {
                facts.Sort(static (a, b) => a.Version.CompareTo(b.Version));
                break;
            }
        }

        var ordered = ImmutableArray.CreateBuilder<RecordedFact>(facts.Count);
        foreach (var (_, fact) in facts)
        {
            ordered.Add(fact);
        }

        return ordered.MoveToImmutable();
    }
}
