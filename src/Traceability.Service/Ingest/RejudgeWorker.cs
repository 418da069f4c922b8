using Microsoft.Extensions.Options;
using Npgsql;
using Traceability.Service.Storage;

namespace Traceability.Service.Ingest;

/// <summary>Judges units again, in the background, when something that they look at has changed.</summary>
/// <remarks>Of several instances, the one with the turn does it. If two do, the second finds the judgement stored and plans anew.</remarks>
internal sealed partial class RejudgeWorker(
    NpgsqlDataSource database, IIngest ingest, Turn turn, TimeProvider clock, IOptions<IngestOptions> options, ILogger<RejudgeWorker> logger) : BackgroundService
{
    private const int Page = 200;

    /// <inheritdoc />
    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        while (!stoppingToken.IsCancellationRequested)
        {
            var done = 0;
            try
            {
                if (!await turn.IsMineAsync(stoppingToken))
                {
                    await Task.Delay(turn.Pause, clock, stoppingToken);
                    continue;
                }

                done = await JudgePageAsync(stoppingToken);
            }
            catch (OperationCanceledException) when (stoppingToken.IsCancellationRequested)
            {
                return;
            }
            catch (Exception exception)
            {
                // The requests stay in their table; the next look finds them again.
                LogFailed(logger, exception);
                await Task.Delay(TimeSpan.FromSeconds(1), clock, stoppingToken).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            }

            if (done < Page)
            {
                await Task.Delay(options.Value.RejudgePause, clock, stoppingToken).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            }
        }
    }

    private async Task<int> JudgePageAsync(CancellationToken cancellation)
    {
        List<(string Unit, DateTimeOffset AskedAt)> asked = [];
        await using (var command = database.CreateCommand($"select unit, asked_at from traceability.rejudge order by asked_at limit {Page}"))
        {
            await using var reader = await command.ExecuteReaderAsync(cancellation);
            while (await reader.ReadAsync(cancellation))
            {
                asked.Add((reader.GetString(0), reader.GetFieldValue<DateTimeOffset>(1)));
            }
        }

        await Task.WhenAll(asked.Select(a => ingest.RejudgeAsync(a.Unit, a.AskedAt, cancellation)));
        return asked.Count;
    }

    [LoggerMessage(1, LogLevel.Error, "Judging again failed")]
    private static partial void LogFailed(ILogger logger, Exception exception);
}
