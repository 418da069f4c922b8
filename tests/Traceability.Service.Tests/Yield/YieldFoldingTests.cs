using CsCheck;
using Npgsql;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Service.Features.Rebuilds;
using Traceability.Service.Features.Yield;
using Traceability.Service.Ingest;
using Traceability.Service.Tests.Reading;
using Xunit;

namespace Traceability.Service.Tests.Yield;

public sealed class YieldFoldingTests
{
    private const int Writers = 8;
    private const int Rounds = 25;

    private static readonly DateOnly Day = new(2026, 3, 2);

    private static readonly Gen<StepResult> Result =
        Gen.Select(Gen.OneOf(Gen.Const("BOND"), Gen.Const("LOAD"), Gen.Const("TEST")), Gen.Int[0, 2], Gen.Int[1, 3], Gen.Bool, Gen.Bool, Gen.Int[0, 2], Gen.Int[0, 2].Select(i => i == 0 ? null : $"ST-{i}"))
            .Select((step, day, attempt, passed, rework, defects, station) => Judged.Step(step, Day.AddDays(day), attempt, passed, rework, defects, station: station));

    private static readonly Gen<Func<UnitJudgement, UnitJudgement>> End =
        Gen.Select(Gen.Int[0, 3], Gen.Bool, Gen.Bool).Select((day, passed, scrapped) =>
            day == 3 ? u => u : (Func<UnitJudgement, UnitJudgement>)(u => u.Ended(Day.AddDays(day), passed && !scrapped, scrapped)));

    [Fact]
    public async Task Folding_among_concurrent_writers_loses_and_doubles_nothing()
    {
        await using var host = await ReadingHost.StartAsync();
        using var written = new CancellationTokenSource();
        Task[] folders = [.. Enumerable.Range(0, 2).Select(_ => Task.Run(() => FoldUntilAsync(host.Database, written.Token)))];
        var checks = Task.Run(() => CheckUntilAsync(host.Database, written.Token));

        await Task.WhenAll(Enumerable.Range(0, Writers).Select(w => Task.Run(() => WriteAsync(host.Database, w))));
        await written.CancelAsync();
        await Task.WhenAll(folders);

        Assert.True(await checks > 0, "The counters were never compared while they were written.");
        Assert.Empty(await YieldCheck.CheckAsync(host.Database, CancellationToken.None));
        await host.FoldAsync();
        Assert.Empty(await YieldCheck.CheckAsync(host.Database, CancellationToken.None));
        Assert.Equal(0, await host.AskAsync<long>("select (select count(*) from traceability.step_yield_change) + (select count(*) from traceability.unit_yield_change)"));
        Assert.True(await host.AskAsync<long>("select count(*) from traceability.step_result") > 100);
        Assert.Equal(
            await host.AskAsync<long>("select count(*) from traceability.step_result"),
            await host.AskAsync<long>("select sum(attempts)::bigint from traceability.step_yield_day"));
    }

    [Fact]
    public async Task A_queued_change_of_a_transaction_that_commits_late_is_folded_after_it()
    {
        await using var host = await ReadingHost.StartAsync();
        await using var connection = await host.Database.OpenConnectionAsync();
        await using var late = await connection.BeginTransactionAsync();
        await ReadingHost.WriteAsync(connection, [Judged.Unit("1", [Judged.Step("BOND", Day)])], _ => null);

        // Its queue rows have lower ids than those that are folded meanwhile.
        await host.StoreAsync(Judged.Unit("2", [Judged.Step("BOND", Day)]));
        await host.FoldAsync();
        Assert.Equal(1, await host.AskAsync<long>("select sum(attempts)::bigint from traceability.step_yield_day"));
        await late.CommitAsync();
        Assert.Empty(await YieldCheck.CheckAsync(host.Database, CancellationToken.None));

        await host.FoldAsync();
        Assert.Equal(2, await host.AskAsync<long>("select sum(attempts)::bigint from traceability.step_yield_day"));
    }

    [Fact]
    public async Task Changes_of_a_transaction_that_is_rolled_back_are_never_folded()
    {
        await using var host = await ReadingHost.StartAsync();
        await using (var connection = await host.Database.OpenConnectionAsync())
        await using (var lost = await connection.BeginTransactionAsync())
        {
            await ReadingHost.WriteAsync(connection, [Judged.Unit("1", [Judged.Step("BOND", Day)])], _ => null);
            await lost.RollbackAsync();
        }

        await host.FoldAsync();
        Assert.Equal(0, await host.AskAsync<long>("select count(*) from traceability.step_yield_day"));
    }

    [Fact]
    public async Task The_comparison_finds_a_counter_that_is_off_by_one()
    {
        await using var host = await ReadingHost.StartAsync();
        await host.StoreAsync(Judged.Unit("1", [Judged.Step("BOND", Day), Judged.Step("LOAD", Day, passed: false)]).Ended(Day, passed: false));
        await host.FoldAsync();
        Assert.Empty(await YieldCheck.CheckAsync(host.Database, CancellationToken.None));

        await host.AskAsync<int>("with x as (update traceability.step_yield_day set defects = defects + 1 where step = 'LOAD' returning 1) select count(*)::int from x");
        Assert.Equal("steps FP-2/2026-03-02/LOAD/ST-1//A: counted 1 0 1 0 0 2 4, rows say 1 0 1 0 0 1 4", Assert.Single(await YieldCheck.CheckAsync(host.Database, CancellationToken.None)));
        await host.AskAsync<int>("with x as (delete from traceability.unit_yield_day returning 1) select count(*)::int from x");
        Assert.Equal("units FP-2/2026-03-02//A: counted 0 0 0, rows say 1 0 0", (await YieldCheck.CheckAsync(host.Database, CancellationToken.None))[1]);
    }

    private static async Task WriteAsync(NpgsqlDataSource database, int writer)
    {
        var pcg = new PCG((uint)writer, 20260302);
        var stored = new Dictionary<UnitKey, UnitState>();
        for (var round = 0; round < Rounds; round++)
        {
            UnitJudgement[] judgements = [.. Enumerable.Range(0, 1 + Next(pcg, 4)).Select(_ => Next(pcg, 10)).Distinct().Select(unit => Generate(pcg, Judged.Unit($"{writer}-{unit}")))];
            await using var connection = await database.OpenConnectionAsync();
            await using var transaction = await connection.BeginTransactionAsync();
            var after = await ReadingHost.WriteAsync(connection, judgements, u => stored.GetValueOrDefault(u));
            if (Next(pcg, 3) == 0)
            {
                await Task.Delay(Next(pcg, 20), CancellationToken.None);
            }

            if (Next(pcg, 5) == 0)
            {
                await transaction.RollbackAsync();
                continue;
            }

            await transaction.CommitAsync();
            foreach (var unit in after)
            {
                stored[unit.Unit.Key] = unit;
            }
        }
    }

    private static int Next(PCG pcg, uint below) => (int)pcg.Next(below);

    private static UnitJudgement Generate(PCG pcg, UnitJudgement unit)
    {
        var results = Result.Array[0, 6].Generate(pcg, null, out _).DistinctBy(r => (r.Step, r.Attempt));
        return End.Generate(pcg, null, out _)(unit with { Steps = [.. results] });
    }

    private static async Task FoldUntilAsync(NpgsqlDataSource database, CancellationToken written)
    {
        // Small pages, so that the two folders and the writers meet often.
        while (!written.IsCancellationRequested)
        {
            await YieldFolding.FoldPageAsync(database, 7, CancellationToken.None);
        }
    }

    private static async Task<int> CheckUntilAsync(NpgsqlDataSource database, CancellationToken written)
    {
        var compared = 0;
        while (!written.IsCancellationRequested)
        {
            Assert.Empty(await YieldCheck.CheckAsync(database, CancellationToken.None));
            compared++;
        }

        return compared;
    }
}
