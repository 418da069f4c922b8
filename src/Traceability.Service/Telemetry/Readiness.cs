using Microsoft.Extensions.Options;
using Npgsql;
using Traceability.Service.Storage;
using Traceability.Service.Storage.Schema;
using Traceability.Service.Storage.Workers;
using Traceability.Service.Telemetry.Alarms;

namespace Traceability.Service.Telemetry;

/// <summary>Looks whether the service can do its work and keep what it acknowledges.</summary>
/// <remarks>Asked by anybody, so one look at a time, and it serves whoever asks within <see cref="Kept"/>. No answer holds an address or a secret.</remarks>
internal sealed class Readiness(
    NpgsqlDataSource database,
    IServiceProvider services,
    IConfiguration configuration,
    IOptions<StorageOptions> options,
    WorkerPulse pulse,
    StoreTrouble trouble,
    TimeProvider clock,
    ILogger<Readiness> logger) : IDisposable
{
    /// <summary>How long an answer stands.</summary>
    public static readonly TimeSpan Kept = TimeSpan.FromSeconds(1);

    /// <summary>How long the database may take.</summary>
    public static readonly TimeSpan DatabaseTimeout = TimeSpan.FromSeconds(2);

    private readonly SemaphoreSlim _looking = new(1);
    private readonly bool _isPrivate = string.IsNullOrWhiteSpace(configuration.GetConnectionString(StorageOptions.ConnectionStringName));
    private HealthReport? _last;
    private DateTimeOffset _lastAt;

    /// <summary>How it is now.</summary>
    public async Task<HealthReport> LookAsync(CancellationToken cancellation)
    {
        await _looking.WaitAsync(cancellation);
        try
        {
            if (_last is { } last && clock.GetUtcNow() - _lastAt < Kept)
            {
                return last;
            }

            var report = HealthReport.Of([.. await LookAtDatabaseAsync(cancellation), .. LookAtWorkers(), .. await LookAtAlarmsAsync(cancellation)]);
            (_last, _lastAt) = (report, clock.GetUtcNow());
            return report;
        }
        finally
        {
            _looking.Release();
        }
    }

    /// <inheritdoc />
    public void Dispose() => _looking.Dispose();

    private async Task<IReadOnlyList<HealthCheckResult>> LookAtDatabaseAsync(CancellationToken cancellation)
    {
        using var timeout = CancellationTokenSource.CreateLinkedTokenSource(cancellation);
        timeout.CancelAfter(DatabaseTimeout);
        try
        {
            await using var connection = await database.OpenConnectionAsync(timeout.Token);
            var settings = await DurabilitySettings.ReadAsync(connection, timeout.Token);
            var schema = await SchemaState.ReadAsync(connection, Migration.All, timeout.Token);
            return
            [
                new("database", HealthStatus.Pass, "It answers."),
                .. settings.Judge(_isPrivate, options.Value.AllowUnsafeDurability),
                LookAtStore(),
                IdleTransactions(await IdleTimeoutAsync(connection, timeout.Token)),
                new("migrations", schema.IsUsable ? HealthStatus.Pass : HealthStatus.Fail, schema.Trouble ?? "The database has the form that this version needs."),
            ];
        }
        catch (OperationCanceledException) when (!cancellation.IsCancellationRequested)
        {
            return [new("database", HealthStatus.Fail, $"It did not answer within {DatabaseTimeout.TotalSeconds} s.")];
        }
        catch (NpgsqlException exception)
        {
            // The reason may name the server: it is for the log, not for whoever asks.
            HealthLog.DatabaseTrouble(logger, exception);
            return [new("database", HealthStatus.Fail, "It does not answer as it should. The service's log says why.")];
        }
    }

    // Set by the service for its own sessions; a proxy between it and the database may have dropped it.
    private static async Task<TimeSpan> IdleTimeoutAsync(NpgsqlConnection connection, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand("select setting::bigint from pg_settings where name = 'idle_in_transaction_session_timeout'", connection);
        return TimeSpan.FromMilliseconds((long)(await command.ExecuteScalarAsync(cancellation))!);
    }

    private static HealthCheckResult IdleTransactions(TimeSpan timeout) => timeout > TimeSpan.Zero && timeout <= Database.IdleTransactionMax
        ? new("idle-transactions", HealthStatus.Pass, $"One of the service is ended after {timeout.TotalSeconds:0} s.")
        : new("idle-transactions", HealthStatus.Warn, "One of the service would be left open: the setting idle_in_transaction_session_timeout did not reach the database. Does a pooler stand between?");

    private HealthCheckResult LookAtStore() => trouble.Reason is { } reason
        ? new("store", HealthStatus.Fail, reason)
        : new("store", HealthStatus.Pass, "The last commits were stored.");

    private IEnumerable<HealthCheckResult> LookAtWorkers()
    {
        // Resolved late: the workers are made when the service starts.
        foreach (var worker in services.GetServices<IHostedService>().OfType<BackgroundService>().Where(IsOurs))
        {
            var name = System.Text.Json.JsonNamingPolicy.KebabCaseLower.ConvertName(worker.GetType().Name);
            yield return worker.ExecuteTask is { IsCompleted: false }
                ? pulse.StuckSince(name) is { } since
                    ? new(name, HealthStatus.Fail, $"It has not come round since {since:O}. Restart the service.")
                    : new(name, HealthStatus.Pass, "It is at work.")
                : new(name, HealthStatus.Fail, "It has ended or was not started. Restart the service; its log says why.");
        }
    }

    // An alarm is no reason to send requests elsewhere, where the same database would be asked; what is, has a check of its own.
    private async Task<IEnumerable<HealthCheckResult>> LookAtAlarmsAsync(CancellationToken cancellation)
    {
        if (services.GetService<AlarmWatch>() is not { } watch)
        {
            return [];
        }

        var (_, alarms) = await watch.LookAsync(cancellation);
        return alarms.Select(a => new HealthCheckResult($"alarm-{a.Kind}", HealthStatus.Warn, $"Since {a.Since:O}. GET /api/alarms says more."));
    }

    private static bool IsOurs(BackgroundService worker) => worker.GetType().Assembly == typeof(Readiness).Assembly;
}

/// <summary>What health checks log.</summary>
internal static partial class HealthLog
{
    [LoggerMessage(1, LogLevel.Warning, "The database does not answer as it should")]
    public static partial void DatabaseTrouble(ILogger logger, Exception exception);
}
