using Npgsql;

namespace Traceability.Service.Telemetry.Alarms;

/// <summary>Something that is wrong.</summary>
/// <param name="Kind">A stable kebab-case code; at most one alarm of a kind stands at a time.</param>
/// <param name="Since">Since when; null where the source can't tell.</param>
/// <param name="Count">How many things it is about, at least 1.</param>
/// <param name="Detail">What was found, for a person.</param>
/// <param name="Action">What to do.</param>
internal sealed record Trouble(string Kind, DateTimeOffset? Since, long Count, string Detail, string Action);

/// <summary>A part of the service that can tell whether something of its own is wrong.</summary>
internal interface IAlarmSource
{
    /// <summary>What is wrong now; empty if nothing is. Asked every few seconds: it must be cheap.</summary>
    /// <param name="connection">A connection to the database, for this source alone while it looks.</param>
    /// <param name="now">The service's time.</param>
    /// <param name="cancellation">Gives up.</param>
    ValueTask<IReadOnlyList<Trouble>> LookAsync(NpgsqlConnection connection, DateTimeOffset now, CancellationToken cancellation);
}

/// <summary>An alarm that is one statement: since when (or null), how many, and a text that names some.</summary>
internal sealed class SqlAlarm(string kind, string sql, Func<long, string, string> detail, string action) : IAlarmSource
{
    /// <inheritdoc />
    public async ValueTask<IReadOnlyList<Trouble>> LookAsync(NpgsqlConnection connection, DateTimeOffset now, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand(sql, connection);
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        if (!await reader.ReadAsync(cancellation) || reader.GetInt64(1) == 0)
        {
            return [];
        }

        var since = reader.IsDBNull(0) ? (DateTimeOffset?)null : reader.GetFieldValue<DateTimeOffset>(0);
        return [new(kind, since, reader.GetInt64(1), detail(reader.GetInt64(1), reader.IsDBNull(2) ? string.Empty : reader.GetString(2)), action)];
    }
}
