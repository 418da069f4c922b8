using Microsoft.Extensions.Options;
using Npgsql;
using Traceability.Contracts.Rebuilds;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Rebuilds;

/// <summary>Starts rebuilds, one at a time over all instances, and clears away what a killed one has left.</summary>
/// <remarks>Which is running is told by a lock that its connection holds: it ends with the instance, however that ends.</remarks>
internal sealed partial class RebuildService(
    NpgsqlDataSource database,
    RebuildStore store,
    ReferenceCache references,
    TimeProvider clock,
    IOptions<RebuildOptions> options,
    ILogger<RebuildService> logger) : BackgroundService
{
    private const long LockKey = 7_270_003;
    private const int LockTries = 5;

    private static readonly TimeSpan LockPause = TimeSpan.FromMilliseconds(100);
    private static readonly TimeSpan LookPause = TimeSpan.FromMinutes(1);
    private readonly CancellationTokenSource _stopping = new();
    private Task _running = Task.CompletedTask;

    /// <summary>Starts one; gives its number, or null if one is running already.</summary>
    public async Task<long?> StartAsync(string askedBy, bool isCompareOnly, CancellationToken cancellation)
    {
        // One that is noted as ended lets go of the lock a moment later.
        var connection = await TryLockAsync(cancellation);
        for (var tries = 1; connection is null && tries < LockTries; tries++)
        {
            await Task.Delay(LockPause, clock, cancellation);
            connection = await TryLockAsync(cancellation);
        }

        if (connection is null)
        {
            return null;
        }

        try
        {
            await store.InterruptAsync(cancellation);
            var id = await store.BeginAsync(askedBy, isCompareOnly, cancellation);
            _running = Task.Run(() => RunAsync(connection, id, isCompareOnly), CancellationToken.None);
            return id;
        }
        catch
        {
            await ReleaseAsync(connection);
            throw;
        }
    }

    /// <inheritdoc />
    public override async Task StopAsync(CancellationToken cancellationToken)
    {
        await _stopping.CancelAsync();
        await _running.WaitAsync(cancellationToken).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        await base.StopAsync(cancellationToken);
    }

    /// <inheritdoc />
    public override void Dispose()
    {
        _stopping.Dispose();
        base.Dispose();
    }

    /// <inheritdoc />
    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        while (!stoppingToken.IsCancellationRequested)
        {
            try
            {
                await ClearAsync(stoppingToken);
            }
            catch (Exception exception) when (exception is not OperationCanceledException)
            {
                LogNotCleared(logger, exception);
            }

            await Task.Delay(LookPause, clock, stoppingToken).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        }
    }

    // What a killed rebuild leaves costs room, and a note at each write; so any instance clears it away.
    private async Task ClearAsync(CancellationToken cancellation)
    {
        await using (var looking = await database.OpenConnectionAsync(cancellation))
        {
            if (!await ShadowTables.AreThereAsync(looking, cancellation))
            {
                return;
            }
        }

        if (await TryLockAsync(cancellation) is { } connection)
        {
            try
            {
                await ShadowTables.DropAsync(connection, clock, cancellation);
                await store.InterruptAsync(cancellation);
                LogCleared(logger);
            }
            finally
            {
                await ReleaseAsync(connection);
            }
        }
    }

    private async Task RunAsync(NpgsqlConnection connection, long id, bool isCompareOnly)
    {
        var state = RebuildState.Failed;
        RebuildComparison? comparison = null;
        string? reason = null;
        try
        {
            var run = new RebuildRun(database, references, clock, options.Value, new(database, clock, id));
            var found = await run.RunAsync(connection, isCompareOnly, _stopping.Token);
            state = RebuildState.Done;
            comparison = found.Result();
            Tell(id, found.IsEqual, comparison);
        }
        catch (OperationCanceledException)
        {
            (state, reason) = (RebuildState.Interrupted, "The instance that worked on it was stopped. Ask for another one.");
        }
        catch (Exception exception)
        {
            reason = exception.Message;
            LogFailed(logger, id, exception);
        }

        RebuildTelemetry.Ended.Add(1, new KeyValuePair<string, object?>("state", EnumNames<RebuildState>.Of(state)));
        await EndAsync(connection, id, state, comparison, reason);
    }

    private void Tell(long id, bool isEqual, RebuildComparison comparison)
    {
        if (isEqual)
        {
            LogEqual(logger, id);
            return;
        }

        RebuildTelemetry.Differing.Add(comparison.DifferingUnits);
        LogDiffering(logger, id, comparison.DifferingUnits, comparison.DifferingYields);
        foreach (var unit in comparison.Differing)
        {
            LogDifferingUnit(logger, id, unit.Unit, string.Join(", ", unit.Tables));
        }

        foreach (var cell in comparison.Yields)
        {
            LogDifferingYield(logger, id, cell);
        }
    }

    // Whatever is in the way here is told in the log: the live rows serve on, and the next look clears away the rest.
    private async Task EndAsync(NpgsqlConnection connection, long id, RebuildState state, RebuildComparison? comparison, string? reason)
    {
        try
        {
            await store.EndAsync(id, state, comparison, reason, CancellationToken.None);
            if (state != RebuildState.Done)
            {
                await using var clearing = await database.OpenConnectionAsync(CancellationToken.None);
                await ShadowTables.DropAsync(clearing, clock, CancellationToken.None);
            }
        }
        catch (Exception exception)
        {
            LogNotCleared(logger, exception);
        }

        await ReleaseAsync(connection);
    }

    private async Task<NpgsqlConnection?> TryLockAsync(CancellationToken cancellation)
    {
        var connection = await database.OpenConnectionAsync(cancellation);
        try
        {
            if (await Sql.ScalarAsync<bool>(connection, "select pg_try_advisory_lock($1)", cancellation, LockKey))
            {
                return connection;
            }
        }
        catch
        {
            await connection.DisposeAsync();
            throw;
        }

        await connection.DisposeAsync();
        return null;
    }

    // The connection goes back to its pool, where a lock would stay.
    private async Task ReleaseAsync(NpgsqlConnection connection)
    {
        try
        {
            await Sql.ExecuteAsync(connection, "select pg_advisory_unlock_all()", CancellationToken.None);
        }
        catch (Exception exception) when (exception is NpgsqlException or InvalidOperationException)
        {
            // A connection that broke is closed, and its locks are gone with it.
            LogNotCleared(logger, exception);
        }

        await connection.DisposeAsync();
    }

    [LoggerMessage(1, LogLevel.Information, "Rebuild {Id}: the live rows equal the rebuilt ones")]
    private static partial void LogEqual(ILogger logger, long id);

    [LoggerMessage(2, LogLevel.Warning, "Rebuild {Id}: the live rows of {Units} units and {Yields} yield counters were not what the facts say")]
    private static partial void LogDiffering(ILogger logger, long id, long units, long yields);

    [LoggerMessage(3, LogLevel.Warning, "Rebuild {Id}: unit {Unit} differed in {Tables}")]
    private static partial void LogDifferingUnit(ILogger logger, long id, string unit, string tables);

    [LoggerMessage(4, LogLevel.Warning, "Rebuild {Id}: yield counter differed: {Cell}")]
    private static partial void LogDifferingYield(ILogger logger, long id, string cell);

    [LoggerMessage(5, LogLevel.Error, "Rebuild {Id} failed; the live rows are as they were")]
    private static partial void LogFailed(ILogger logger, long id, Exception exception);

    [LoggerMessage(6, LogLevel.Warning, "What a rebuild left behind is not cleared away yet")]
    private static partial void LogNotCleared(ILogger logger, Exception exception);

    [LoggerMessage(7, LogLevel.Information, "What a rebuild had left behind is cleared away")]
    private static partial void LogCleared(ILogger logger);
}
