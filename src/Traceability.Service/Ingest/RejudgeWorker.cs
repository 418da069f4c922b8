using Microsoft.Extensions.Options;
using Npgsql;
using Traceability.Service.Storage.Workers;

namespace Traceability.Service.Ingest;

/// <summary>Judges units again, in the background, when something that they look at has changed.</summary>
/// <remarks>
/// One instance of the service does it. A unit that fails is put off, longer each time up to <see cref="PutOffMax"/>, unless it is
/// asked for anew; it stays in the queue, where an alarm and every answer that it touches tell of it. Others don't wait for it.
/// </remarks>
internal sealed partial class RejudgeWorker(
    NpgsqlDataSource database,
    IIngest ingest,
    WorkerLease lease,
    WorkerPulse pulse,
    TimeProvider clock,
    IOptions<IngestOptions> options,
    ILogger<RejudgeWorker> logger) : BackgroundService
{
    /// <summary>The worker's name.</summary>
    public const string Name = "rejudge-worker";

    /// <summary>The longest that a unit is put off.</summary>
    public static readonly TimeSpan PutOffMax = TimeSpan.FromMinutes(10);

    private const int Page = 200;

    private static readonly string Due =
        $"""
        select unit, asked_at from traceability.rejudge
        where tried_at is null or asked_at > tried_at or tried_at + least(interval '1 second' * power(2, least(tries, 20)), interval '{(int)PutOffMax.TotalSeconds} seconds') < now()
        order by asked_at limit {Page}
        """;

    /// <inheritdoc />
    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        while (!stoppingToken.IsCancellationRequested)
        {
            pulse.Beat(Name);
            var done = 0;
            try
            {
                done = await lease.HoldsAsync(Name, stoppingToken) ? await JudgePageAsync(stoppingToken) : 0;
            }
            catch (OperationCanceledException) when (stoppingToken.IsCancellationRequested)
            {
                break;
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

        pulse.End(Name);
        await lease.TryReleaseAsync(Name, logger);
    }

    private async Task<int> JudgePageAsync(CancellationToken cancellation)
    {
        List<(string Unit, DateTimeOffset AskedAt)> asked = [];
        await using (var command = database.CreateCommand(Due))
        {
            await using var reader = await command.ExecuteReaderAsync(cancellation);
            while (await reader.ReadAsync(cancellation))
            {
                asked.Add((reader.GetString(0), reader.GetFieldValue<DateTimeOffset>(1)));
            }
        }

        await Task.WhenAll(asked.Select(a => JudgeAsync(a.Unit, a.AskedAt, cancellation)));
        return asked.Count;
    }

    private async Task JudgeAsync(string unit, DateTimeOffset askedAt, CancellationToken cancellation)
    {
        try
        {
            await ingest.RejudgeAsync(unit, askedAt, cancellation);
            pulse.Beat(Name);
        }
        catch (Exception exception) when (exception is not OperationCanceledException && (exception is not NpgsqlException || exception is PostgresException))
        {
            LogPutOff(logger, unit, exception);
            await using var command = database.CreateCommand(
                "update traceability.rejudge set tries = tries + 1, tried_at = greatest(now(), asked_at), trouble = $3 where unit = $1 and asked_at = $2");
            command.Parameters.Add(new() { Value = unit });
            command.Parameters.Add(new() { Value = askedAt.UtcDateTime });
            command.Parameters.Add(new() { Value = $"{exception.GetType().Name}: {exception.Message}" });
            await command.ExecuteNonQueryAsync(cancellation);
        }
    }

    [LoggerMessage(1, LogLevel.Error, "Judging again failed")]
    private static partial void LogFailed(ILogger logger, Exception exception);

    [LoggerMessage(2, LogLevel.Error, "Unit {Unit} could not be judged again and is put off")]
    private static partial void LogPutOff(ILogger logger, string unit, Exception exception);
}
