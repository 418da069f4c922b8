using Npgsql;
using NpgsqlTypes;
using Traceability.Domain.Facts;

namespace Traceability.Service.Storage.Checking;

/// <summary>A stored event, and why it can't be read; null if it can.</summary>
internal sealed record StoredEvent(long Seq, Guid Id, string Stream, string Name, DateTimeOffset StoredAt, string? Unreadable);

/// <summary>Reads stored events in the order in which they got their numbers, only to see whether they can be read.</summary>
internal static class StoredEvents
{
    private const string Columns = "select e.seq_id, e.id, e.stream_id, e.type, e.data::text, e.timestamp from events.mt_events e";

    private static readonly string[] Known = [.. EventNames.All.Select(e => e.Name)];

    /// <summary>The events after this number, as far as they can be seen now.</summary>
    public static Task<List<StoredEvent>> AfterAsync(NpgsqlConnection connection, long seq, int most, CancellationToken cancellation) =>
        ReadAsync(connection, $"{Columns} where e.seq_id > $1 order by e.seq_id limit $2", [Number(seq), new() { Value = most }], cancellation);

    /// <summary>The events between these numbers whose names this version does not know.</summary>
    public static Task<List<StoredEvent>> UnknownAsync(NpgsqlConnection connection, long after, long to, int most, CancellationToken cancellation) => ReadAsync(
        connection,
        $"{Columns} where e.seq_id > $1 and e.seq_id <= $2 and e.type <> all($4) order by e.seq_id limit $3",
        [Number(after), Number(to), new() { Value = most }, new() { Value = Known }],
        cancellation);

    /// <summary>The events of these streams.</summary>
    public static Task<List<StoredEvent>> OfStreamsAsync(NpgsqlConnection connection, string[] streams, CancellationToken cancellation) => streams.Length == 0
        ? Task.FromResult<List<StoredEvent>>([])
        : ReadAsync(connection, $"{Columns} where e.stream_id = any($1)", [new() { Value = streams, NpgsqlDbType = NpgsqlDbType.Array | NpgsqlDbType.Varchar }], cancellation);

    /// <summary>Reads events whose rows the statement gives.</summary>
    public static async Task<List<StoredEvent>> ReadAsync(
        NpgsqlConnection connection, string sql, NpgsqlParameter[] parameters, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand(sql, connection);
        command.Parameters.AddRange(parameters);
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        List<StoredEvent> found = [];
        while (await reader.ReadAsync(cancellation))
        {
            var (name, storedAt) = (reader.GetString(3), reader.GetFieldValue<DateTimeOffset>(5));
            var fact = FactCodec.Deserialize(name, reader.GetString(4), storedAt);
            found.Add(new(reader.GetInt64(0), reader.GetGuid(1), reader.GetString(2), name, storedAt, (fact as UnreadableFact)?.Reason));
        }

        return found;
    }

    private static NpgsqlParameter Number(long value) => new() { Value = value, NpgsqlDbType = NpgsqlDbType.Bigint };
}

/// <summary>The newest events, which are looked at again for a while: one with a smaller number may be committed after one with a larger.</summary>
internal sealed class EventWindow
{
    /// <summary>How long a transaction may take and still be seen by the look at new events; a later one is seen by the next round.</summary>
    public static readonly TimeSpan Length = TimeSpan.FromSeconds(5);

    private readonly HashSet<long> _seen = [];

    /// <summary>Those that were not looked at before.</summary>
    public List<StoredEvent> New(IEnumerable<StoredEvent> found) => [.. found.Where(e => _seen.Add(e.Seq))];

    /// <summary>The number up to which nothing new is expected; null for none.</summary>
    public long? End(IReadOnlyList<StoredEvent> found, DateTimeOffset now, bool isFull)
    {
        var end = isFull ? found[^1].Seq : found.LastOrDefault(e => e.StoredAt < now - Length)?.Seq;
        if (end is { } seq)
        {
            _seen.RemoveWhere(s => s <= seq);
        }

        return end;
    }
}
