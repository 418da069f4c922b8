using Npgsql;
using NpgsqlTypes;

namespace Traceability.Service.Features.Rebuilds;

/// <summary>Statements that may take as long as they take: a rebuild is not a request.</summary>
internal static class Sql
{
    public static async Task ExecuteAsync(NpgsqlConnection connection, string sql, CancellationToken cancellation, params object[] values)
    {
        await using var command = Command(connection, sql, values);
        await command.ExecuteNonQueryAsync(cancellation);
    }

    public static async Task<T> ScalarAsync<T>(NpgsqlConnection connection, string sql, CancellationToken cancellation, params object[] values)
    {
        await using var command = Command(connection, sql, values);
        return (T)(await command.ExecuteScalarAsync(cancellation))!;
    }

    public static async Task<List<T>> ListAsync<T>(
        NpgsqlConnection connection, string sql, Func<NpgsqlDataReader, T> read, CancellationToken cancellation, params object[] values)
    {
        var rows = new List<T>();
        await using var command = Command(connection, sql, values);
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        while (await reader.ReadAsync(cancellation))
        {
            rows.Add(read(reader));
        }

        return rows;
    }

    /// <summary>Runs what must lock tables of the service, in a transaction that gives up waiting soon: those who wait behind it are served on.</summary>
    /// <returns>Whether the locks were had in time; nothing was done if not.</returns>
    public static async Task<bool> TryLockedAsync(
        NpgsqlConnection connection, TimeSpan patience, Func<NpgsqlTransaction, Task<bool>> work, CancellationToken cancellation)
    {
        await using var transaction = await connection.BeginTransactionAsync(cancellation);
        try
        {
            await ExecuteAsync(connection, FormattableString.Invariant($"set local lock_timeout = {(int)patience.TotalMilliseconds}"), cancellation);
            if (!await work(transaction))
            {
                return false;
            }

            await transaction.CommitAsync(cancellation);
            return true;
        }
        catch (PostgresException exception) when (exception.SqlState is PostgresErrorCodes.LockNotAvailable or PostgresErrorCodes.DeadlockDetected)
        {
            return false;
        }
    }

    private static NpgsqlCommand Command(NpgsqlConnection connection, string sql, object[] values)
    {
        var command = new NpgsqlCommand(sql, connection) { CommandTimeout = 0 };
        foreach (var value in values)
        {
            command.Parameters.Add(value is string[]
                ? new() { Value = value, NpgsqlDbType = NpgsqlDbType.Array | NpgsqlDbType.Text }
                : new NpgsqlParameter { Value = value });
        }

        return command;
    }
}
