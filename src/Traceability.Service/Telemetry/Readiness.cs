using Microsoft.Extensions.Options;
using Npgsql;
using Traceability.Service.Storage;

namespace Traceability.Service.Telemetry;

/// <summary>Looks whether the service can do its work and keep what it acknowledges.</summary>
/// <remarks>Asked by anybody, so one look at a time, and it serves whoever asks within <see cref="Kept"/>. No answer holds an address or a secret.</remarks>
internal sealed class Readiness(
    NpgsqlDataSource database,
    IServiceProvider services,
    IConfiguration configuration,
    IOptions<StorageOptions> options,
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
    private readonly HeldUpCommits _commits = new(options, clock);
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

            var report = HealthReport.Of([.. await LookAtDatabaseAsync(cancellation), .. LookAtWorkers()]);
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
            var settings = await SettingsAsync(connection, timeout.Token);
            var commits = await _commits.LookAsync(connection, timeout.Token);
            var missing = await Migrator.MissingAsync(connection, timeout.Token);
            return
            [
                new("database", HealthStatus.Pass, "It answers."),
                .. settings.Judge(_isPrivate, options.Value.AllowUnsafeDurability),
                commits,
                LookAtStore(),
                missing.Count == 0
                    ? new("migrations", HealthStatus.Pass, "The database has the form that this version needs.")
                    : new("migrations", HealthStatus.Fail, $"The database lacks {string.Join(", ", missing)}. Restart the service to apply them."),
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

    private static async Task<DurabilitySettings> SettingsAsync(NpgsqlConnection connection, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand(
            "select current_setting('fsync'), current_setting('synchronous_commit'), current_setting('full_page_writes'), current_setting('data_checksums')",
            connection);
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        await reader.ReadAsync(cancellation);
        return new(reader.GetString(0), reader.GetString(1), reader.GetString(2), reader.GetString(3));
    }

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
                ? new(name, HealthStatus.Pass, "It is at work.")
                : new(name, HealthStatus.Fail, "It has ended or was not started. Restart the service; its log says why.");
        }
    }

    private static bool IsOurs(BackgroundService worker) => worker.GetType().Assembly == typeof(Readiness).Assembly;
}

/// <summary>What health checks log.</summary>
internal static partial class HealthLog
{
    [LoggerMessage(1, LogLevel.Warning, "The database does not answer as it should")]
    public static partial void DatabaseTrouble(ILogger logger, Exception exception);
}
