using Npgsql;
using Traceability.Service.Storage.Workers;

namespace Traceability.Service.Telemetry.Alarms;

/// <summary>An alarm that stands, and since when.</summary>
internal sealed record StandingAlarm(string Kind, DateTimeOffset Since, long Count, string Detail, string Action);

/// <summary>Asks every source of alarms every few seconds; logs what comes and goes, and keeps what stands for metrics and answers.</summary>
/// <remarks>Every instance watches for itself: an alarm must not depend on another instance being well.</remarks>
internal sealed partial class AlarmWatch : BackgroundService
{
    /// <summary>The worker's name.</summary>
    public const string Name = "alarm-watch";

    /// <summary>How long between looks.</summary>
    public static readonly TimeSpan Pause = TimeSpan.FromSeconds(5);

    /// <summary>How long the database may take.</summary>
    private static readonly TimeSpan Timeout = TimeSpan.FromSeconds(4);

    private readonly NpgsqlDataSource _database;
    private readonly IAlarmSource[] _sources;
    private readonly WorkerPulse _pulse;
    private readonly TimeProvider _clock;
    private readonly ILogger<AlarmWatch> _logger;
    private readonly SemaphoreSlim _looking = new(1);
    private volatile StandingAlarm[] _standing = [];
    private DateTimeOffset _asOf;

    public AlarmWatch(NpgsqlDataSource database, IEnumerable<IAlarmSource> sources, WorkerPulse pulse, TimeProvider clock, ILogger<AlarmWatch> logger)
    {
        _database = database;
        _sources = [.. sources];
        _pulse = pulse;
        _clock = clock;
        _logger = logger;
        ServiceTelemetry.Watches.TryAdd(this, true);
    }

    /// <summary>The alarms of the last look.</summary>
    public IReadOnlyList<StandingAlarm> Standing => _standing;

    /// <summary>Looks now, unless that was done within the last second.</summary>
    public async Task<(DateTimeOffset AsOf, IReadOnlyList<StandingAlarm> Alarms)> LookAsync(CancellationToken cancellation)
    {
        await _looking.WaitAsync(cancellation);
        try
        {
            var now = _clock.GetUtcNow();
            if (now - _asOf >= TimeSpan.FromSeconds(1))
            {
                Take(await AskAsync(now, cancellation), now);
            }

            return (_asOf, Standing);
        }
        finally
        {
            _looking.Release();
        }
    }

    /// <inheritdoc />
    public override void Dispose()
    {
        ServiceTelemetry.Watches.TryRemove(this, out _);
        _looking.Dispose();
        base.Dispose();
    }

    /// <inheritdoc />
    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        while (!stoppingToken.IsCancellationRequested)
        {
            _pulse.Beat(Name);
            try
            {
                await LookAsync(stoppingToken);
            }
            catch (OperationCanceledException) when (stoppingToken.IsCancellationRequested)
            {
                break;
            }

            await Task.Delay(Pause, _clock, stoppingToken).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        }

        _pulse.End(Name);
    }

    private async Task<List<Trouble>> AskAsync(DateTimeOffset now, CancellationToken cancellation)
    {
        using var timeout = CancellationTokenSource.CreateLinkedTokenSource(cancellation);
        timeout.CancelAfter(Timeout);
        List<Trouble> found = [.. _pulse.Stuck().Select(s => new Trouble(
            "worker-stuck", s.Since, 1, $"The worker {s.Worker} has not come round since {s.Since:O}.", "Restart this instance. Another one takes its work over meanwhile, if there is one."))];
        try
        {
            await using var connection = await _database.OpenConnectionAsync(timeout.Token);
            foreach (var source in _sources)
            {
                found.AddRange(await source.LookAsync(connection, now, timeout.Token));
            }
        }
        catch (Exception exception) when (exception is NpgsqlException || (exception is OperationCanceledException && !cancellation.IsCancellationRequested))
        {
            // What the database would tell is not known: what stood before goes on standing.
            LogNotAsked(_logger, exception.Message);
            found.AddRange(Standing.Where(s => !found.Exists(f => f.Kind == s.Kind)).Select(s => new Trouble(s.Kind, s.Since, s.Count, s.Detail, s.Action)));
            found.RemoveAll(f => f.Kind == "database-unreachable");
            found.Add(new("database-unreachable", null, 1, "The database does not answer as it should; the service's log says why.", "Bring the database back. Nothing that was acknowledged is lost; senders send again."));
        }

        return [.. found.GroupBy(f => f.Kind, StringComparer.Ordinal).Select(g => g.First() with { Count = g.Sum(f => f.Count), Detail = string.Join(' ', g.Select(f => f.Detail)) })];
    }

    private void Take(List<Trouble> found, DateTimeOffset now)
    {
        var before = Standing.ToDictionary(a => a.Kind, StringComparer.Ordinal);
        StandingAlarm[] after =
        [
            .. found.Select(f => new StandingAlarm(f.Kind, f.Since ?? before.GetValueOrDefault(f.Kind)?.Since ?? now, f.Count, f.Detail, f.Action))
                .OrderBy(a => a.Since).ThenBy(a => a.Kind, StringComparer.Ordinal),
        ];
        foreach (var alarm in after.Where(a => !before.ContainsKey(a.Kind)))
        {
            LogRaised(_logger, alarm.Kind, alarm.Count, alarm.Detail, alarm.Action);
        }

        foreach (var gone in before.Keys.Except(after.Select(a => a.Kind), StringComparer.Ordinal))
        {
            LogGone(_logger, gone);
        }

        _standing = after;
        _asOf = now;
    }

    [LoggerMessage(1, LogLevel.Error, "Alarm {Kind} ({Count}): {Detail} {Action}")]
    private static partial void LogRaised(ILogger logger, string kind, long count, string detail, string action);

    [LoggerMessage(2, LogLevel.Information, "Alarm {Kind} is over")]
    private static partial void LogGone(ILogger logger, string kind);

    [LoggerMessage(3, LogLevel.Warning, "Alarms could not be looked at: {Reason}")]
    private static partial void LogNotAsked(ILogger logger, string reason);
}
