using Npgsql;
using Traceability.Service.Storage.Workers;

namespace Traceability.Service.Storage.Answers;

/// <summary>Writes the present moment into the primary, again and again, so that a replica can tell how far it has come.</summary>
internal sealed partial class ReplicaBeat(
    NpgsqlDataSource primary, ReadReplicas replicas, WorkerLease lease, WorkerPulse pulse, TimeProvider clock, ILogger<ReplicaBeat> logger) : BackgroundService
{
    /// <summary>The worker's name.</summary>
    public const string Name = "replica-beat";

    /// <inheritdoc />
    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        // A quarter of what is allowed, so that one beat that comes late is no trouble.
        var pause = TimeSpan.FromSeconds(Math.Clamp(replicas.LagMax.TotalSeconds / 4, 0.05, 5));
        while (!stoppingToken.IsCancellationRequested)
        {
            pulse.Beat(Name);
            try
            {
                if (replicas.AreThere && await lease.HoldsAsync(Name, stoppingToken))
                {
                    await using var command = primary.CreateCommand("update traceability.replica_beat set at = clock_timestamp()");
                    await command.ExecuteNonQueryAsync(stoppingToken);
                }
            }
            catch (OperationCanceledException) when (stoppingToken.IsCancellationRequested)
            {
                break;
            }
            catch (Exception exception)
            {
                LogFailed(logger, exception);
            }

            await Task.Delay(pause, clock, stoppingToken).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        }

        pulse.End(Name);
        await lease.TryReleaseAsync(Name, logger);
    }

    [LoggerMessage(1, LogLevel.Error, "The moment for replicas could not be written")]
    private static partial void LogFailed(ILogger logger, Exception exception);
}
