using Microsoft.Extensions.Options;
using Npgsql;

namespace Traceability.Service.Features.Yield;

/// <summary>Folds queued differences into the day counters, in the background.</summary>
internal sealed partial class YieldFolder(
    NpgsqlDataSource database, TimeProvider clock, IOptions<YieldOptions> options, ILogger<YieldFolder> logger) : BackgroundService
{
    private static readonly TimeSpan PauseAfterFailure = TimeSpan.FromSeconds(1);

    /// <inheritdoc />
    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        var page = options.Value.FoldPageSize;
        var pause = options.Value.FoldPause;
        while (!stoppingToken.IsCancellationRequested)
        {
            try
            {
                var folded = await YieldFolding.FoldPageAsync(database, page, stoppingToken);
                if (folded >= page)
                {
                    continue;
                }

                // Seldom while nothing happens, often while something does.
                pause = folded > 0 ? options.Value.FoldPause : TimeSpan.FromTicks(Math.Min(pause.Ticks * 2, Math.Max(options.Value.FoldPause.Ticks, options.Value.FoldPauseIdle.Ticks)));
            }
            catch (OperationCanceledException) when (stoppingToken.IsCancellationRequested)
            {
                return;
            }
            catch (Exception exception)
            {
                // The differences stay in their queue, where answers count them; the next look finds them again.
                LogFailed(logger, exception);
                pause = PauseAfterFailure;
            }

            await Task.Delay(pause, clock, stoppingToken).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        }
    }

    [LoggerMessage(1, LogLevel.Error, "Folding yield counters failed")]
    private static partial void LogFailed(ILogger logger, Exception exception);
}
