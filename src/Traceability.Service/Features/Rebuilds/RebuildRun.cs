using System.Data;
using System.Globalization;
using Npgsql;
using Traceability.Service.Ingest;
using Traceability.Service.Ingest.Bulk;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Rebuilds;

/// <summary>There was no moment at which the rebuilt rows could be put in the place of the live ones.</summary>
/// <param name="tries">How often it was tried.</param>
internal sealed class NoQuietMomentException(int tries) : Exception(string.Create(
    CultureInfo.InvariantCulture,
    $"In {tries} tries there was no moment to put the rebuilt rows in place: a transaction stays open. See pg_stat_activity for the oldest one, end it and ask again."));

/// <summary>One rebuild of every derived table, from the facts alone, beside the live ones and while these are written and read.</summary>
/// <remarks>
/// Facts are seen by whether they are committed, never by their number: the load reads what is committed, every later commit
/// leaves a note (<see cref="ShadowTables.CreateAsync"/>) that is committed with it, and the swap waits for those under way.
/// </remarks>
internal sealed class RebuildRun(
    NpgsqlDataSource database, ReferenceCache references, TimeProvider clock, RebuildOptions options, RebuildProgress progress)
{
    private const int FewNotes = 100;

    private static readonly TimeSpan LockPatience = TimeSpan.FromSeconds(2);
    private static readonly TimeSpan SnapshotPatience = TimeSpan.FromSeconds(1);
    private static readonly TimeSpan PauseMax = TimeSpan.FromSeconds(5);

    private readonly ShadowCatchUp _catchUp = new(new(references), progress);
    private readonly ShadowComparison _comparison = new(options.DifferencesNamedMax);

    /// <summary>Rebuilds, compares and, unless only that is asked for, swaps. Leaves nothing behind, however it ends, as long as the database answers.</summary>
    /// <param name="connection">A connection that holds the rebuild lock.</param>
    /// <param name="isCompareOnly">Keep the live rows.</param>
    /// <param name="cancellation">Gives up.</param>
    public async Task<ShadowComparison> RunAsync(NpgsqlConnection connection, bool isCompareOnly, CancellationToken cancellation)
    {
        await ShadowTables.DropAsync(connection, clock, cancellation);
        await ShadowTables.CreateAsync(connection, clock, cancellation);
        await LoadAsync(connection, cancellation);
        await progress.EnterAsync("catching-up", cancellation);
        while (await _catchUp.TakeAsync(connection, null, cancellation) > FewNotes)
        {
            await progress.SaveAsync(cancellation);
        }

        await progress.EnterAsync("comparing", cancellation);
        await CompareAsync(connection, cancellation);
        if (!isCompareOnly)
        {
            await progress.EnterAsync("swapping", cancellation);
            await SwapAsync(connection, cancellation);
        }

        await progress.EnterAsync("dropping", cancellation);
        await ShadowTables.DropAsync(connection, clock, cancellation);
        await progress.EnterAsync("done", cancellation);
        return _comparison;
    }

    private async Task LoadAsync(NpgsqlConnection connection, CancellationToken cancellation)
    {
        var load = new ShadowLoad(database, new(references), options, progress);
        await progress.EnterAsync("judging", cancellation);
        await load.FirstAsync(cancellation);

        // Where components are is asked for while assemblies are judged.
        await ShadowTables.IndexAsync(connection, [UnitTables.Installations.Name], cancellation);
        await Sql.ExecuteAsync(connection, $"analyze {ShadowTables.Next}.{UnitTables.Installations.Name}, {ShadowTables.Next}.later", cancellation);
        await progress.EnterAsync("judging-assemblies", cancellation);
        await load.SecondAsync(cancellation);
        await progress.EnterAsync("indexing", cancellation);
        await Sql.ExecuteAsync(connection, YieldChanges.Steps(ShadowTables.Next, "step_yield_day", sign: 1), cancellation);
        await Sql.ExecuteAsync(connection, YieldChanges.Units(ShadowTables.Next, "unit_yield_day", sign: 1), cancellation);
        await Parallel.ForEachAsync(
            await ShadowTables.BySizeAsync(connection, cancellation),
            new ParallelOptions { MaxDegreeOfParallelism = options.WorkersMax, CancellationToken = cancellation },
            async (table, stopping) => await FinishAsync(table, stopping));
        await ShadowTables.IndexForCatchUpAsync(connection, cancellation);
    }

    private async Task FinishAsync(string table, CancellationToken cancellation)
    {
        await using var connection = await database.OpenConnectionAsync(cancellation);
        if (table != UnitTables.Installations.Name)
        {
            await ShadowTables.IndexAsync(connection, [table], cancellation);
        }

        await ShadowTables.AnalyzeAsync(connection, table, cancellation);
    }

    private async Task CompareAsync(NpgsqlConnection connection, CancellationToken cancellation)
    {
        await using var transaction = await connection.BeginTransactionAsync(IsolationLevel.RepeatableRead, cancellation);
        await _comparison.CompareAllAsync(connection, database, options.WorkersMax, cancellation);
        await transaction.CommitAsync(cancellation);
    }

    private async Task SwapAsync(NpgsqlConnection connection, CancellationToken cancellation)
    {
        var pause = TimeSpan.FromMilliseconds(100);
        for (var tries = 1; tries <= options.SwapTriesMax; tries++)
        {
            while (await _catchUp.TakeAsync(connection, _comparison, cancellation) > FewNotes)
            {
                await progress.SaveAsync(cancellation);
            }

            if (await TrySwapAsync(connection, cancellation))
            {
                return;
            }

            await Task.Delay(pause, clock, cancellation);
            pause = pause * 2 < PauseMax ? pause * 2 : PauseMax;
        }

        throw new NoQuietMomentException(options.SwapTriesMax);
    }

    private async Task<bool> TrySwapAsync(NpgsqlConnection connection, CancellationToken cancellation)
    {
        // Every transaction that writes units shares this lock until it has committed: with it, none is under way.
        if (!await Sql.TryLockedAsync(
            connection,
            LockPatience,
            async _ =>
            {
                await Sql.ExecuteAsync(connection, "select pg_advisory_lock($1)", cancellation, GroupWriter.ReferenceLockKey);
                return true;
            },
            cancellation))
        {
            return false;
        }

        try
        {
            for (var pages = 0; await _catchUp.TakeAsync(connection, _comparison, cancellation) > 0; pages++)
            {
                if (pages == 2)
                {
                    // Too much for writers to wait for.
                    return false;
                }
            }

            return await AreSnapshotsNewAsync(connection, cancellation) && await ShadowTables.TrySwapAsync(connection, cancellation);
        }
        finally
        {
            if (connection.State == ConnectionState.Open)
            {
                await Sql.ExecuteAsync(connection, "select pg_advisory_unlock($1)", CancellationToken.None, GroupWriter.ReferenceLockKey);
            }
        }
    }

    // A question that is answered from one snapshot, taken before the last page was written, must not meet the new tables: it
    // would find the units in them as they were then. A writer that waits for the lock takes another one when it has it.
    private async Task<bool> AreSnapshotsNewAsync(NpgsqlConnection connection, CancellationToken cancellation)
    {
        var limit = await Sql.ScalarAsync<string>(connection, "select pg_current_xact_id()::text", cancellation);
        var started = clock.GetTimestamp();
        while (await Sql.ScalarAsync<long>(
            connection,
            """
            select count(*) from pg_stat_activity where datname = current_database() and pid <> pg_backend_pid() and backend_type = 'client backend'
              and backend_xmin is not null and age(backend_xmin) >= age($1::xid8::xid) and wait_event is distinct from 'advisory'
            """,
            cancellation,
            limit) > 0)
        {
            if (clock.GetElapsedTime(started) > SnapshotPatience)
            {
                return false;
            }

            await Task.Delay(TimeSpan.FromMilliseconds(5), clock, cancellation);
        }

        return true;
    }
}
