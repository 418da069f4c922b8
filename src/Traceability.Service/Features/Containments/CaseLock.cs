using System.Buffers.Binary;
using System.Security.Cryptography;
using System.Text;
using Npgsql;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Features.Containments;

/// <summary>One at a time works on a case, over all instances: two runs at once would tell one difference twice.</summary>
internal sealed class CaseLock(NpgsqlConnection connection, long key) : IAsyncDisposable
{
    private static readonly TimeSpan RetryAfter = TimeSpan.FromSeconds(5);

    /// <summary>Waits until nobody else works on the case. The connection must be in no transaction, since its snapshot must be younger than the wait.</summary>
    /// <exception cref="CaseNotStoredException">That takes too long.</exception>
    public static async Task<CaseLock> TakeAsync(NpgsqlConnection connection, ContainmentId id, CancellationToken cancellation)
    {
        // Two cases that share a key only wait for each other.
        var key = BinaryPrimitives.ReadInt64LittleEndian(SHA256.HashData(Encoding.UTF8.GetBytes($"containment {id}")));
        await using var command = new NpgsqlCommand("select pg_advisory_lock($1)", connection);
        command.Parameters.Add(new() { Value = key });
        try
        {
            await command.ExecuteNonQueryAsync(cancellation);
        }
        catch (PostgresException exception) when (exception.SqlState == PostgresErrorCodes.LockNotAvailable)
        {
            throw new CaseNotStoredException(new(RetryAfter, $"Another request, or the service by itself, works on containment {id}. Ask again."));
        }

        return new(connection, key);
    }

    /// <inheritdoc />
    public async ValueTask DisposeAsync()
    {
        if (connection.State != System.Data.ConnectionState.Open)
        {
            return;
        }

        await using var command = new NpgsqlCommand("select pg_advisory_unlock($1)", connection);
        command.Parameters.Add(new() { Value = key });
        await command.ExecuteScalarAsync();
    }
}
