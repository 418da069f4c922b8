using Microsoft.Extensions.Options;
using Npgsql;
using NpgsqlTypes;
using Traceability.Domain.Primitives;
using Traceability.Service.Storage.Workers;

namespace Traceability.Service.Features.Containments;

/// <summary>Runs the questions of open cases again when facts have been recorded since, and records what that changes.</summary>
/// <remarks>
/// One instance of the service does it. Whether anything was recorded, the number of the newest event tells. A transaction that
/// was given its number earlier may commit later: so a case is looked at once more when the newest event is a while old.
/// </remarks>
internal sealed partial class ContainmentWatch(
    NpgsqlDataSource database,
    CaseDesk desk,
    HoldDesk holds,
    WorkerLease lease,
    WorkerPulse pulse,
    TimeProvider clock,
    IOptions<ContainmentOptions> options,
    ILogger<ContainmentWatch> logger) : BackgroundService
{
    /// <summary>The worker's name.</summary>
    public const string Name = "containment-watch";

    // A transaction that is still open after that long has been ended by the database.
    private const string Settled = "interval '90 seconds'";

    private const string Due =
        $"""
        with newest as (select seq_id, timestamp from events.mt_events order by seq_id desc limit 1)
        select c.id, c.holds_late, n.seq_id, exists (select from traceability.rejudge)
        from traceability.containment c cross join newest n
        where (c.state = 'open' or c.closed_at > now() - $1::interval)
          and (c.watched_seq < n.seq_id or (c.watched_at < n.timestamp + {Settled} and now() > n.timestamp + {Settled}))
        order by c.watched_at limit 100
        """;

    /// <inheritdoc />
    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        while (!stoppingToken.IsCancellationRequested)
        {
            pulse.Beat(Name);
            try
            {
                if (await lease.HoldsAsync(Name, stoppingToken))
                {
                    await LookAsync(stoppingToken);
                }
            }
            catch (OperationCanceledException) when (stoppingToken.IsCancellationRequested)
            {
                break;
            }
            catch (Exception exception)
            {
                // How far a case was watched is noted after its run, so the next look takes it up.
                LogFailed(logger, exception);
            }

            // Longer pauses than the pulse allows are waited in parts.
            for (var left = options.Value.WatchPause; left > TimeSpan.Zero && !stoppingToken.IsCancellationRequested; left -= WorkerPulse.StuckAfter / 4)
            {
                pulse.Beat(Name);
                await Task.Delay(left < WorkerPulse.StuckAfter / 4 ? left : WorkerPulse.StuckAfter / 4, clock, stoppingToken).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            }
        }

        pulse.End(Name);
        await lease.TryReleaseAsync(Name, logger);
    }

    private async Task LookAsync(CancellationToken cancellation)
    {
        List<(ContainmentId Id, bool HoldsLate, long Seq, bool IsBehind)> due = [];
        await using (var command = database.CreateCommand(Due))
        {
            command.Parameters.Add(new() { Value = options.Value.WatchClosedFor, NpgsqlDbType = NpgsqlDbType.Interval });
            await using var reader = await command.ExecuteReaderAsync(cancellation);
            while (await reader.ReadAsync(cancellation))
            {
                due.Add((ContainmentId.Parse(reader.GetString(0)), reader.GetBoolean(1), reader.GetInt64(2), reader.GetBoolean(3)));
            }
        }

        foreach (var (id, holdsLate, seq, isBehind) in due)
        {
            try
            {
                await WatchAsync(id, holdsLate, seq, isBehind, cancellation);
            }
            catch (Exception exception) when (exception is not OperationCanceledException)
            {
                // One case that fails keeps no other from being watched.
                LogCaseFailed(logger, id.Value, exception);
            }

            pulse.Beat(Name);
        }
    }

    private async Task WatchAsync(ContainmentId id, bool holdsLate, long seq, bool isBehind, CancellationToken cancellation)
    {
        if (await desk.RunAsync(id, CaseFacts.Service, cancellation) is { Difference.Added: > 0 } run)
        {
            LogFound(logger, id.Value, run.Difference.Added);
        }

        if (holdsLate)
        {
            await holds.SetAsync(id, onlyLate: true, null, CaseFacts.Service, cancellation);
        }

        // While units wait to be judged again, the rows are behind the events: the case stays due.
        await using var command = database.CreateCommand("update traceability.containment set watched_seq = $2, watched_at = now() where id = $1");
        command.Parameters.Add(new() { Value = id.Value });
        command.Parameters.Add(new() { Value = isBehind ? seq - 1 : seq });
        await command.ExecuteNonQueryAsync(cancellation);
    }

    [LoggerMessage(1, LogLevel.Error, "Watching containments failed")]
    private static partial void LogFailed(ILogger logger, Exception exception);

    [LoggerMessage(2, LogLevel.Error, "Containment {Containment} could not be watched")]
    private static partial void LogCaseFailed(ILogger logger, string containment, Exception exception);

    [LoggerMessage(3, LogLevel.Warning, "Containment {Containment} has {Count} new members")]
    private static partial void LogFound(ILogger logger, string containment, int count);
}
