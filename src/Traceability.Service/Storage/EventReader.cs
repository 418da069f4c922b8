using Npgsql;
using NpgsqlTypes;
using Traceability.Domain.Facts;

namespace Traceability.Service.Storage;

/// <summary>Reads streams of facts. Total: an event that can't be read comes back as an <see cref="UnreadableFact"/>, in its place.</summary>
internal static class EventReader
{
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
    public static NpgsqlBatchCommand Query(IReadOnlyCollection<string> streams) => new(
        """
        select stream_id, id, type, data::text, timestamp
        from events.mt_events where stream_id = any($1) order by stream_id, version
        """)
    {
        Parameters = { new() { Value = streams.ToArray(), NpgsqlDbType = NpgsqlDbType.Array | NpgsqlDbType.Varchar } },
    };

    /// <summary>Reads the answer of <see cref="Query"/>.</summary>
    public static async Task<Dictionary<string, ImmutableArray<RecordedFact>>> ReadAsync(NpgsqlDataReader reader, CancellationToken cancellation)
    {
        var found = new Dictionary<string, ImmutableArray<RecordedFact>.Builder>(StringComparer.Ordinal);
        while (await reader.ReadAsync(cancellation))
        {
            var stream = reader.GetString(0);
            if (!found.TryGetValue(stream, out var facts))
            {
                found[stream] = facts = ImmutableArray.CreateBuilder<RecordedFact>();
            }

            var recordedAt = reader.GetFieldValue<DateTimeOffset>(4);
            facts.Add(new(reader.GetGuid(1), FactCodec.Deserialize(reader.GetString(2), reader.GetString(3), recordedAt), recordedAt));
        }

        return found.ToDictionary(f => f.Key, f => f.Value.ToImmutable(), StringComparer.Ordinal);
    }
}
