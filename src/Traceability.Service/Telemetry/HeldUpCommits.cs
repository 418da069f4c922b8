using System.Globalization;
using Microsoft.Extensions.Options;
using Npgsql;
using Traceability.Service.Storage;

namespace Traceability.Service.Telemetry;

/// <summary>Looks whether commits wait for a lock that somebody does not give back: an idle transaction, a forgotten console.</summary>
/// <remarks>What an instance of the service holds is given back by itself (<see cref="AbandonedCommits"/>); this is for the others. For one caller at a time.</remarks>
internal sealed class HeldUpCommits(IOptions<StorageOptions> options, TimeProvider clock)
{
    // A commit that gives up waits anew, and its wait begins anew.
    private static readonly TimeSpan Remembered = TimeSpan.FromSeconds(5);

    private DateTimeOffset _lastAt = DateTimeOffset.MinValue;

    /// <summary>The check.</summary>
    public async Task<HealthCheckResult> LookAsync(NpgsqlConnection connection, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand(
            """
            select coalesce(max(extract(epoch from clock_timestamp() - query_start)), 0)::float8 from pg_stat_activity
            where datname = current_database() and application_name = $1 and state = 'active' and wait_event_type = 'Lock'
            """,
            connection);
        command.Parameters.Add(new() { Value = CommitDatabase.SessionName });
        var seconds = (double)(await command.ExecuteScalarAsync(cancellation))!;
        var now = clock.GetUtcNow();
        var isRemembered = now - _lastAt < Remembered;
        var isHeldUp = seconds > options.Value.AbandonedAfter.TotalSeconds * 1.5 || (isRemembered && seconds > 0);
        if (isHeldUp)
        {
            _lastAt = now;
        }

        return isHeldUp || isRemembered
            ? new("commits", HealthStatus.Fail, string.Create(CultureInfo.InvariantCulture, $"Commits wait for a lock that another session of the database holds, {seconds:0} s now. End that session: pg_blocking_pids tells which it is."))
            : new("commits", HealthStatus.Pass, "None waits for long.");
    }
}
