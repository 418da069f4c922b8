using Microsoft.Extensions.Options;
using Npgsql;
using Traceability.Service.Storage.Workers;

namespace Traceability.Service.Features.Yield;

/// <summary>Folds queued differences into the day counters, in the background.</summary>
internal sealed partial class YieldFolder(
    NpgsqlDataSource database, WorkerPulse pulse, TimeProvider clock, IOptions<YieldOptions> options, ILogger<YieldFolder> logger) : BackgroundService
{
    /// <summary>The worker's name.</summary>
    public const string Name = "yield-folder";

    private static readonly TimeSpan PauseAfterFailure = TimeSpan.FromSeconds(1);

    /// <inheritdoc />
    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        var page = options.Value.FoldPageSize;
        var pause = options.Value.FoldPause;
        while (!stoppingToken.IsCancellationRequested)
        {
            pulse.Beat(Name);
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
