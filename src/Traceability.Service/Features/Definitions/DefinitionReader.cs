using System.Data;
using Npgsql;
using Traceability.Domain.Judging;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Definitions;

/// <summary>Reads definitions from their streams, as of now.</summary>
internal sealed class DefinitionReader(NpgsqlDataSource database)
{
    /// <summary>The folded state of one stream, or null.</summary>
    public async Task<T?> FindAsync<T>(string stream, CancellationToken cancellation)
        where T : class
    {
        await using var connection = await database.OpenConnectionAsync(cancellation);
        return (await EventReader.LoadAsync(connection, [stream], cancellation)).TryGetValue(stream, out var facts)
            ? References.FoldReadable(stream, facts) as T
            : null;
    }

    /// <summary>The folded states of the streams whose names begin so, in the order of their names, and where the next page begins.</summary>
    public async Task<(List<T> Found, string? After)> ListAsync<T>(string prefix, string after, int limit, CancellationToken cancellation)
        where T : class
    {
        await using var connection = await database.OpenConnectionAsync(cancellation);
        await using var transaction = await connection.BeginTransactionAsync(IsolationLevel.RepeatableRead, cancellation);
        var streams = new List<string>();
        await using (var command = new NpgsqlCommand(
            """
            select stream from traceability.reference_stream
            where stream collate "C" > $1 and starts_with(stream, $2) order by stream collate "C" limit $3
            """,
            connection))
        {
            command.Parameters.Add(new() { Value = prefix + after });
            command.Parameters.Add(new() { Value = prefix });
            command.Parameters.Add(new() { Value = limit + 1 });
            await using var reader = await command.ExecuteReaderAsync(cancellation);
            while (await reader.ReadAsync(cancellation))
            {
                streams.Add(reader.GetString(0));
            }
        }

        var page = streams.Count > limit ? streams[..limit] : streams;
        var facts = await EventReader.LoadAsync(connection, page, cancellation);
        await transaction.CommitAsync(cancellation);
        return (
            [.. page.Select(s => References.FoldReadable(s, facts.GetValueOrDefault(s, []))).OfType<T>()],
            streams.Count > limit ? page[^1][prefix.Length..] : null);
    }
}
