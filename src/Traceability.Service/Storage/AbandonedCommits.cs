using System.Globalization;
using Microsoft.Extensions.Options;
using Npgsql;

namespace Traceability.Service.Storage;

/// <summary>Ends commits whose instance of the service stands still in the midst of sending them.</summary>
/// <remarks>
/// Such a session holds the locks of its transaction, and with them everybody else. The server's own limits do not see it:
/// between two statements that were sent together a session is neither idle in a transaction nor at work on a statement, and
/// the kernel of a process that stands still answers for it. It waits for its client, which a healthy commit never does for
/// long: its statements are made before the first is sent. Whoever is ended so tries again with its receipts.
/// </remarks>
internal sealed partial class AbandonedCommits(
    NpgsqlDataSource database, IOptions<StorageOptions> options, TimeProvider clock, ILogger<AbandonedCommits> logger) : BackgroundService
{
    private const string End =
        """
        select pid, pg_terminate_backend(pid) from pg_stat_activity
        where datname = current_database() and usename = current_user and application_name = $1 and pid <> pg_backend_pid()
          and state <> 'idle' and wait_event = 'ClientRead' and clock_timestamp() - greatest(xact_start, state_change) > $2
        """;

    /// <inheritdoc />
    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        while (!stoppingToken.IsCancellationRequested)
        {
            try
            {
                await EndAsync(stoppingToken);
            }
            catch (OperationCanceledException) when (stoppingToken.IsCancellationRequested)
            {
                return;
            }
            catch (Exception exception) when (exception is NpgsqlException or TimeoutException)
            {
                // Without a database nothing is abandoned in it; the next look finds what is.
                LogFailed(logger, exception.Message);
            }

            await Task.Delay(options.Value.AbandonedAfter / 4, clock, stoppingToken).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        }
    }

    private async Task EndAsync(CancellationToken cancellation)
    {
        await using var command = database.CreateCommand(End);
        command.Parameters.Add(new() { Value = CommitDatabase.SessionName });
        command.Parameters.Add(new() { Value = options.Value.AbandonedAfter });
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        while (await reader.ReadAsync(cancellation))
        {
            LogEnded(logger, reader.GetInt32(0).ToString(CultureInfo.InvariantCulture), options.Value.AbandonedAfter);
        }
    }

    [LoggerMessage(1, LogLevel.Warning, "The database session {Session} was ended: its instance of the service stood still for {Time} in the midst of a commit")]
    private static partial void LogEnded(ILogger logger, string session, TimeSpan time);

    [LoggerMessage(2, LogLevel.Information, "Abandoned commits could not be looked for: {Reason}")]
    private static partial void LogFailed(ILogger logger, string reason);
}
