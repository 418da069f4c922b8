using Npgsql;
using Traceability.Service.Telemetry.Alarms;

namespace Traceability.Service.Features.Yield;

/// <summary>Differences of yield counters have waited long. Answers hold them all the same; they only get slower.</summary>
/// <remarks>The queue does not say when a row came: a row that is still the oldest after that time has waited that long.</remarks>
internal sealed class YieldQueueAlarm : IAlarmSource
{
    /// <summary>How long is too long.</summary>
    public static readonly TimeSpan AgeMax = TimeSpan.FromSeconds(60);

    private (long Id, DateTimeOffset Since) _oldest;

    /// <inheritdoc />
    public async ValueTask<IReadOnlyList<Trouble>> LookAsync(NpgsqlConnection connection, DateTimeOffset now, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand(
            """
            select coalesce((select min(id) from traceability.step_yield_change), -(select min(id) from traceability.unit_yield_change)),
                (select count(*) from (select from traceability.step_yield_change limit 1000000) s) + (select count(*) from (select from traceability.unit_yield_change limit 1000000) u)
            """,
            connection);
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        await reader.ReadAsync(cancellation);
        if (reader.IsDBNull(0))
        {
            _oldest = default;
            return [];
        }

        if (_oldest.Id != reader.GetInt64(0))
        {
            _oldest = (reader.GetInt64(0), now);
        }

        return now - _oldest.Since < AgeMax
            ? []
            : [new("yield-queue-old", _oldest.Since, reader.GetInt64(1), "Differences of yield counters are not folded. Answers count them all the same, but take longer.", "See the log of the service for why folding fails, and pg_stat_activity for what holds locks on the counters.")];
    }
}
