using Microsoft.Extensions.Options;
using Npgsql;
using Traceability.Service.Storage.Workers;

namespace Traceability.Service.Features.Dispersion;

/// <summary>Counts the spread of lots in the background, on one instance, seldom enough to take a twentieth of one core at most.</summary>
internal sealed partial class DispersionCounter(
    NpgsqlDataSource database,
    WorkerLease lease,
    WorkerPulse pulse,
    TimeProvider clock,
    IOptions<DispersionOptions> options,
    ILogger<DispersionCounter> logger) : BackgroundService
{
    /// <summary>The worker's name.</summary>
    public const string Name = "dispersion-counter";

    private const int RestFactor = 19;

    private static readonly TimeSpan BeatEvery = TimeSpan.FromSeconds(1);

    /// <summary>How long to rest after a count.</summary>
    /// <param name="took">How long it took.</param>
    /// <param name="pause">The least rest.</param>
    internal static TimeSpan RestAfter(TimeSpan took, TimeSpan pause) => took * RestFactor > pause ? took * RestFactor : pause;

    /// <inheritdoc />
    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        try
        {
            while (!stoppingToken.IsCancellationRequested)
            {
                var before = clock.GetTimestamp();
                await BeatWhileAsync(TryCountAsync(stoppingToken), stoppingToken);
                await BeatWhileAsync(Task.Delay(RestAfter(clock.GetElapsedTime(before), options.Value.Pause), clock, stoppingToken), stoppingToken);
            }
        }
        catch (OperationCanceledException) when (stoppingToken.IsCancellationRequested)
        {
            // It ends as it should.
        }

        pulse.End(Name);
        await lease.TryReleaseAsync(Name, logger);
    }

    private async Task TryCountAsync(CancellationToken cancellation)
    {
        try
        {
            if (await lease.HoldsAsync(Name, cancellation))
            {
                await DispersionCounting.CountAsync(database, clock.GetUtcNow(), cancellation);
            }
        }
        catch (Exception exception) when (exception is not OperationCanceledException)
        {
            // The counts stay as they were, and the answer says of when they are; the next round counts again.
            LogFailed(logger, exception);
        }
    }

    private async Task BeatWhileAsync(Task work, CancellationToken cancellation)
    {
        while (!work.IsCompleted)
        {
            pulse.Beat(Name);
            await Task.WhenAny(work, Task.Delay(BeatEvery, clock, cancellation));
        }

        await work;
    }

    [LoggerMessage(1, LogLevel.Error, "Counting the spread of lots failed")]
    private static partial void LogFailed(ILogger logger, Exception exception);
}
