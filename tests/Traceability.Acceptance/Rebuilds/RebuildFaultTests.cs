using System.Diagnostics;
using Npgsql;
using Traceability.Acceptance.Robustness;
using Traceability.Contracts.Rebuilds;
using Traceability.Domain.Facts;
using Traceability.Service.Ingest;
using Traceability.Service.Storage;
using Traceability.Testing;
using Xunit.Abstractions;

namespace Traceability.Acceptance.Rebuilds;

/// <summary>A rebuild that is disturbed leaves the live rows serving; one that is not misses nothing, however late it was committed.</summary>
public sealed class RebuildFaultTests(ITestOutputHelper output)
{
    private static readonly DateTimeOffset Start = LampWorks.DaysAgo(6);

    [Fact]
    public async Task A_rebuild_whose_connections_break_fails_and_leaves_the_live_rows_serving()
    {
        await using var host = await ServiceHost.StartAsync();
        var works = new LampWorks(81, Start);
        await Terminal.PostAllAsync(host.Admin, [.. works.Definitions(), .. Enumerable.Range(1, 1_500).SelectMany(l => works.SimpleLamp(l, l / 10.0))], batch: 1_500);
        await Tables.SettleAsync(host.Database);
        var before = await Tables.DerivedAsync(host.Database);
        var failed = new HashSet<string>(StringComparer.Ordinal);
        var dice = new Dice(82);
        var cuts = LongForm.Of(12, 100);
        for (var cut = 0; cut < cuts; cut++)
        {
            // Any statement about the second tables, or the lock that says that a rebuild runs.
            await RebuildClient.StartAsync(host.Admin);
            var phase = dice.Pick("judging", "indexing", "catching-up", "comparing", "swapping", "dropping");
            await UntilAsync(host.Admin, phase);
            await ExecuteAsync(
                host.Database,
                """
                select pg_terminate_backend(pid) from pg_stat_activity
                where pid <> pg_backend_pid() and datname = current_database() and (query like '%traceability\_next%' and state <> 'idle'
                  or pid in (select pid from pg_locks where locktype = 'advisory' and objid = 7270003))
                """);
            var ended = await RebuildClient.EndAsync(host.Admin);
            if (ended.State == RebuildState.Failed)
            {
                failed.Add(phase);
            }

            await RebuildClient.RequireNothingLeftAsync(host.Database);
            Tables.RequireNone(Tables.Difference(before, await Tables.DerivedAsync(host.Database)));
        }

        output.WriteLine($"failed at {string.Join(", ", failed)}");
        Assert.True(failed.Count >= 2, "Too few rebuilds were met at work.");
        await Terminal.PostAllAsync(host.Admin, works.SimpleLamp(9_000, 0), batch: 3);
        RebuildClient.RequireEqual(await RebuildClient.RunAsync(host.Admin));
        await RebuildClient.RequireFreshAsync(host.Database);
        LongForm.Note(
            "8: a rebuild whose connection is cut",
            FormattableString.Invariant($"{cuts} cuts"),
            $"the live rows as before, nothing left of the second ones; failed at {string.Join(", ", failed)}");
    }

    [Fact]
    public async Task A_swap_that_finds_no_moment_is_given_up_while_everybody_is_served()
    {
        await using var host = await ServiceHost.StartAsync("--Rebuilds:SwapTriesMax=3");
        var works = new LampWorks(83, Start);
        await Terminal.PostAllAsync(host.Admin, [.. works.Definitions(), .. works.SimpleLamp(1, 0)], batch: 50);
        await using var reading = await host.Database.OpenConnectionAsync();
        await using var open = await reading.BeginTransactionAsync(System.Data.IsolationLevel.RepeatableRead);
        await using (var command = new NpgsqlCommand("select count(*) from events.mt_events", reading))
        {
            await command.ExecuteScalarAsync();
        }

        await RebuildClient.StartAsync(host.Admin);
        var slowest = TimeSpan.Zero;
        var posts = 0;
        for (var lamp = 2; (await RebuildClient.LastAsync(host.Admin)).State == RebuildState.Running; lamp++)
        {
            var started = Stopwatch.GetTimestamp();
            await Terminal.PostAllAsync(host.Admin, works.SimpleLamp(lamp, 0), batch: 3);
            slowest = TimeSpan.FromTicks(Math.Max(slowest.Ticks, Stopwatch.GetElapsedTime(started).Ticks));
            posts++;
        }

        var ended = await RebuildClient.LastAsync(host.Admin);
        Assert.Equal(RebuildState.Failed, ended.State);
        Assert.Contains("pg_stat_activity", ended.Reason, StringComparison.Ordinal);
        Assert.True(posts > 3 && slowest < TimeSpan.FromSeconds(6), FormattableString.Invariant($"{posts} posts, the slowest took {slowest.TotalSeconds:0.0} s."));
        await RebuildClient.RequireNothingLeftAsync(host.Database);
        await open.CommitAsync();
        RebuildClient.RequireEqual(await RebuildClient.RunAsync(host.Admin));
    }

    [Fact]
    public async Task A_question_whose_snapshot_is_older_than_the_swap_never_meets_the_new_tables()
    {
        await using var host = await ServiceHost.StartAsync();
        var works = new LampWorks(84, Start);
        await Terminal.PostAllAsync(host.Admin, [.. works.Definitions(), .. Enumerable.Range(1, 50).SelectMany(l => works.SimpleLamp(l, 0))], batch: 500);
        await using var reading = await host.Database.OpenConnectionAsync();
        await using var open = await reading.BeginTransactionAsync(System.Data.IsolationLevel.RepeatableRead);
        await using var first = new NpgsqlCommand("select seq from traceability.reference_clock", reading);
        await first.ExecuteScalarAsync();

        await RebuildClient.StartAsync(host.Admin);
        await UntilAsync(host.Admin, "swapping");
        await Task.Delay(500);
        await using var second = new NpgsqlCommand("select count(*) from traceability.unit", reading);
        Assert.Equal(50L, await second.ExecuteScalarAsync());
        await open.CommitAsync();
        Assert.Equal(RebuildState.Done, (await RebuildClient.EndAsync(host.Admin)).State);
    }

    [Fact]
    public async Task A_transaction_that_commits_late_is_never_missed()
    {
        await using var host = await ServiceHost.StartAsync();
        var works = new LampWorks(85, Start);
        await Terminal.PostAllAsync(host.Admin, [.. works.Definitions(), .. Enumerable.Range(1, 300).SelectMany(l => works.SimpleLamp(l, 0))], batch: 500);
        using var references = new ReferenceCache(new StorageLimits());
        var dice = new Dice(86);
        var (hits, waits) = (0, 0);
        var runs = LongForm.Of(20, 200);
        for (var run = 1; run <= runs; run++)
        {
            // A group of another instance, written and numbered, and not committed: a new unit, and ones that are there. It begins
            // before the rebuild or at some place in it.
            Sent[] late = [.. works.SimpleLamp(1_000 + run, 0), .. Enumerable.Range(1, 5).Select(_ => works.Fact("unit-held", 60, LampWorks.Unit("LAMP", dice.Int(1, 300)) + ""","reason":"Late" """))];
            await using var connection = await host.Database.OpenConnectionAsync();
            var transaction = run % 4 == 0 ? await WriteAsync(connection, references, late) : null;
            await RebuildClient.StartAsync(host.Admin);
            if (transaction is null)
            {
                await UntilAsync(host.Admin, dice.Pick("judging", "judging", "indexing", "catching-up", "comparing"));
                transaction = await WriteAsync(connection, references, late);
            }

            // Others get higher numbers and are committed before.
            await Terminal.PostAllAsync(host.Admin, works.SimpleLamp(5_000 + run, 0), batch: 3);
            await Task.Delay(dice.Int(0, 100));
            var atCommit = await RebuildClient.LastAsync(host.Admin);
            await transaction.CommitAsync();
            await transaction.DisposeAsync();
            hits += atCommit is { State: RebuildState.Running, Phase: not "preparing" } ? 1 : 0;
            waits += atCommit is { State: RebuildState.Running } ? 1 : 0;

            var ended = await RebuildClient.EndAsync(host.Admin);
            Assert.True(ended.State == RebuildState.Done, ended.Reason);
            Assert.Equal(0, ended.Comparison!.DifferingUnits);
            Assert.Equal(1, await Tables.CountAsync(host.Database, FormattableString.Invariant($"(select from traceability.unit where unit = 'LAMP/{1_000 + run}' and version = 3) u")));
            Tables.RequireNone(await FreshJudgement.DifferencesAsync(host.Database));
        }

        output.WriteLine($"of {runs} transactions {hits} committed when a rebuild had begun to read, {waits - hits} when it waited to begin");
        Assert.True(hits * 3 >= runs && waits > hits, $"Only {hits} and {waits} of {runs} transactions met a rebuild.");
        await RebuildClient.RequireFreshAsync(host.Database);
        LongForm.Note(
            "10: a transaction that commits late while a rebuild reads",
            FormattableString.Invariant($"{runs} runs"),
            FormattableString.Invariant($"none missed; {hits} committed when a rebuild had begun to read, {waits - hits} when it waited to begin"));
    }

    [Fact]
    public async Task What_a_killed_rebuild_leaves_is_cleared_away_at_the_next_start()
    {
        await using var service = await ServiceProcess.StartAsync();
        var works = new LampWorks(87, Start);
        using (var client = Terminal.Client(service.Address, service.Key))
        {
            await Terminal.PostAllAsync(client, [.. works.Definitions(), .. Enumerable.Range(1, 1_500).SelectMany(l => works.SimpleLamp(l, l / 10.0))], batch: 1_500);
        }

        await Tables.SettleAsync(service.Database);
        var before = await Tables.DerivedAsync(service.Database);
        var dice = new Dice(88);
        var interrupted = 0;
        var kills = LongForm.Of(3, 30);
        for (var kill = 0; kill < kills; kill++)
        {
            using (var client = Terminal.Client(service.Address, service.Key))
            {
                await RebuildClient.StartAsync(client);
                await UntilAsync(client, dice.Pick("judging", "indexing", "comparing", "swapping"));
            }

            await service.KillAsync();
            await service.RunAsync();
            using var again = Terminal.Client(service.Address, service.Key);
            await RebuildClient.RequireNothingLeftAsync(service.Database);
            interrupted += (await RebuildClient.LastAsync(again)).State == RebuildState.Interrupted ? 1 : 0;
            Tables.RequireNone(Tables.Difference(before, await Tables.DerivedAsync(service.Database)));
        }

        Assert.True(interrupted > 0, "No kill met a rebuild at work.");
        using var last = Terminal.Client(service.Address, service.Key);
        await Terminal.PostAllAsync(last, works.SimpleLamp(9_000, 0), batch: 3);
        RebuildClient.RequireEqual(await RebuildClient.RunAsync(last));
        LongForm.Note(
            "8: kill -9 of the service in the midst of a rebuild",
            FormattableString.Invariant($"{kills} kills"),
            FormattableString.Invariant($"{interrupted} met it at work; nothing left of it after the next start, the live rows as before"));
    }

    private static async Task<NpgsqlTransaction> WriteAsync(NpgsqlConnection connection, ReferenceCache references, IEnumerable<Sent> facts)
    {
        while (true)
        {
            var planner = new GroupPlanner(new UnitCache(100), references, TimeProvider.System);
            PendingFact[] pending = [.. facts.Select(f => Service.Http.Reading.FactReader.Read(System.Text.Encoding.UTF8.GetBytes(f.Json)).Fact!).Select(r => new PendingFact(new(r.Id, r.ContentHash, r.Fact with { SentBy = "late", Clock = new ClockReading(TimeSpan.Zero, TimeSpan.FromSeconds(2), false) })))];
            var plan = await planner.PlanAsync(connection, pending, [], isTrusting: false, CancellationToken.None);
            Assert.Equal(pending.Length, plan.Appends.Count);
            var transaction = await connection.BeginTransactionAsync();
            try
            {
                await GroupWriter.WriteAsync(connection, plan, CancellationToken.None);
                return transaction;
            }
            catch (StalePlanException)
            {
                await transaction.DisposeAsync();
            }
        }
    }

    private static async Task UntilAsync(HttpClient admin, string phase)
    {
        while (await RebuildClient.LastAsync(admin) is { State: RebuildState.Running } running && running.Phase != phase)
        {
            await Task.Delay(2);
        }
    }

    private static async Task ExecuteAsync(NpgsqlDataSource database, string sql)
    {
        await using var command = database.CreateCommand(sql);
        await command.ExecuteNonQueryAsync();
    }
}
