using System.Net.Http.Json;
using System.Text.Json;
using Npgsql;
using Traceability.Acceptance.History;
using Traceability.Acceptance.Rebuilds;
using Traceability.Acceptance.Robustness;
using Traceability.Contracts;
using Traceability.Contracts.Batches;
using Traceability.Contracts.Lots;
using Traceability.Contracts.Scope;
using Traceability.Contracts.Units;
using Traceability.Testing;

namespace Traceability.Acceptance.Batches;

/// <summary>Was the mix still good when it was used? And what was done to the part before it had a serial?</summary>
public sealed class MixAndBatchTests
{
    private static readonly DateTimeOffset Start = LampWorks.DaysAgo(6);

    [Fact]
    public async Task A_use_after_the_pot_life_is_found_and_what_is_learnt_later_judges_it_again()
    {
        await using var host = await ServiceHost.StartAsync();
        var works = new OvenWorks(1, Start);
        var mixed = works.Mixed("M1", 60);
        var read = works.Read((55, 15m), (75, 15m), (95, 15m), (115, 15m));
        await Terminal.PostAllAsync(
            host.Admin,
            [
                .. works.Definitions(), read, mixed, works.Formed("B1", 0), works.Soaked("B1", 5, 40),
                .. works.Dropped(1, "B1", 41), works.Potted(1, "M1", 99), .. works.Dropped(2, "B1", 41), works.Potted(2, "M1", 101),
            ],
            batch: 1);
        await Tables.SettleAsync(host.Database);
        Assert.Equal(["HOUSING/2 pot-life-exceeded"], await FindingsAsync(host.Database));

        // At 25 °C it lasts 20 min.
        await PostAsync(host, works.CorrectedReading(read.Id, 500, (55, 25m), (75, 25m), (95, 25m), (115, 25m)));
        Assert.Equal(["HOUSING/1 pot-life-exceeded", "HOUSING/2 pot-life-exceeded"], await FindingsAsync(host.Database));
        await PostAsync(host, works.CorrectedMix(mixed.Id, 501, "M1", 90, 60));
        Assert.Equal(["HOUSING/1 mix-ratio-out-of-limits", "HOUSING/2 mix-ratio-out-of-limits"], await FindingsAsync(host.Database));
        await PostAsync(host, works.Held("HARD", "H1", 95));
        Assert.Equal(4, (await FindingsAsync(host.Database)).Count(f => f.EndsWith("lot-not-released", StringComparison.Ordinal) || f.EndsWith("mix-ratio-out-of-limits", StringComparison.Ordinal)));
        await PostAsync(host, works.Define("item-defined", 502, """ "item":"RESIN","kind":"consumable","description":"Resin","needsInspection":true """));
        Assert.Equal(2, (await FindingsAsync(host.Database)).Count(f => f.EndsWith("lot-not-inspected", StringComparison.Ordinal)));
        await RebuildClient.RequireFreshAsync(host.Database);
    }

    [Fact]
    public async Task A_mix_carries_each_of_its_parts_and_its_balance_counts_it()
    {
        await using var host = await ServiceHost.StartAsync();
        var works = new OvenWorks(2, Start);
        await Terminal.PostAllAsync(
            host.Admin,
            [.. works.Definitions(), works.Mixed("M1", 60), works.Formed("B1", 0), works.Soaked("B1", 5, 40), .. works.Dropped(1, "B1", 41), works.Potted(1, "M1", 80)],
            batch: 1);
        foreach (var part in new[] { "RESIN/R1", "HARD/H1" })
        {
            var member = Assert.Single((await GetAsync<ScopeAnswer>(host.Admin, $"/api/lots/{part}/scope")).Members);
            Assert.Equal(("1", "proven", "sublot"), (member.Serial, member.Verdict, member.Path[0].Kind));
        }

        var lineage = await GetAsync<LotLineageView>(host.Admin, "/api/lots/POTMIX/M1/lineage");
        Assert.Equal(["HARD mixed", "RESIN mixed"], lineage.Sources.Select(l => $"{l.From.Item} {l.Kind}").Order(StringComparer.Ordinal));
        await PostAsync(host, works.Define("stock-counted", 200, """ "lot":{"item":"RESIN","lot":"R1"},"quantity":{"value":890,"unit":"g"} """));
        var balance = await GetAsync<LotBalanceView>(host.Admin, "/api/lots/RESIN/R1/balance");
        Assert.Equal((100m, 10m), (balance.SplitOff, balance.UnexplainedMost));
    }

    [Fact]
    public async Task Asked_first_it_says_until_when_the_mix_may_be_used()
    {
        await using var host = await ServiceHost.StartAsync();
        var now = TimeProvider.System.GetUtcNow();
        var works = new OvenWorks(3, now);
        await Terminal.PostAllAsync(
            host.Admin,
            [.. works.Definitions(), works.Formed("B1", -100), works.Soaked("B1", -90, -60), .. works.Dropped(1, "B1", -59), works.Mixed("M1", -5), works.Read((-5.1, 25m)), works.Read((-0.5, 25m))],
            batch: 1);
        using var answer = await host.Admin.PostAsJsonAsync("/api/units/HOUSING/1/steps/POT/readiness", new { station = "ST-1", person = "P-9", materials = new[] { new { item = "POTMIX", lots = new[] { "M1" } } } });
        var text = await answer.Content.ReadAsStringAsync();
        Assert.True(answer.IsSuccessStatusCode, text);
        var ready = JsonSerializer.Deserialize<ReadinessAnswer>(text, WireJson.Options)!;
        var life = Assert.Single(ready.Lives);
        Assert.Equal((ReadinessVerdict.Go, "pot life", "M1"), (ready.Answer, life.What, life.Lot));
        Assert.InRange((life.Until!.Value - now).TotalMinutes, 14.7, 15.05);
        Assert.StartsWith("If it stays at the last reading, 25 Cel at ", life.Assumption, StringComparison.Ordinal);
    }

    [Fact]
    public async Task What_is_recorded_of_a_batch_is_recorded_of_its_units_and_judges_them_again()
    {
        await using var host = await ServiceHost.StartAsync();
        var works = new OvenWorks(4, Start);
        var soaked = works.Soaked("B1", 5, 40);
        var formed = works.Formed("B1", 0, count: 2);
        await Terminal.PostAllAsync(
            host.Admin,
            [
                .. works.Definitions(), formed, soaked, works.Formed("B2", 0), works.Soaked("B2", 5, 40, "G2"),
                .. works.Dropped(1, "B1", 41), .. works.Dropped(2, "B1", 43), .. works.Dropped(3, "B2", 41),
            ],
            batch: 1);
        await Tables.SettleAsync(host.Database);
        Assert.Equal(["HOUSING/2 interval-too-long"], await FindingsAsync(host.Database));
        Assert.Equal(["1", "2"], (await GetAsync<ScopeAnswer>(host.Admin, "/api/lots/GR/G1/scope")).Members.Where(m => m.Verdict == "proven").Select(m => m.Serial));

        Assert.Equal("1 2", await JudgedAgainAsync(host, works.CorrectedSoak(soaked.Id, 500, "B1", 25, 40)));
        Assert.Equal(["HOUSING/1 interval-too-short", "HOUSING/2 interval-too-long", "HOUSING/2 interval-too-short"], await FindingsAsync(host.Database));
        Assert.Equal("1 2", await JudgedAgainAsync(host, works.Held("GR", "G1", 10)));
        Assert.Equal("1 2 3", await JudgedAgainAsync(host, works.Calibrated(600, foundGood: false)));
        Assert.Equal(3, (await FindingsAsync(host.Database)).Count(f => f.EndsWith("tool-found-out", StringComparison.Ordinal)));
        await RebuildClient.RequireFreshAsync(host.Database);

        var record = await GetAsync<BuildRecord>(host.Admin, "/api/units/HOUSING/1/build-record");
        Assert.Equal(["batch-formed", "batch-step-completed", "record-corrected"], record.BatchRecords.Select(r => r.Type));
        await Terminal.PostAllAsync(host.Admin, works.Dropped(4, "B1", 41), batch: 1);
        var batch = await GetAsync<BatchView>(host.Admin, "/api/batches/HOUSING/B1");
        Assert.Equal((2, "SOAK", false), (batch.Count, Assert.Single(batch.Steps).Step, batch.Steps[0].IsVoid));
        Assert.Equal(["1", "2", "4"], batch.Units.Select(u => u.Serial));
        Assert.Equal("batch-overdrawn", Assert.Single(batch.Findings).Kind);

        // Units 1 and 4 were taken out before unit 2: it is the one that may be beyond. With the count corrected none is.
        await Tables.SettleAsync(host.Database);
        Assert.Equal(["HOUSING/2 batch-overdrawn"], (await FindingsAsync(host.Database)).Where(f => f.EndsWith("batch-overdrawn", StringComparison.Ordinal)));
        await RebuildClient.RequireFreshAsync(host.Database);
        RebuildClient.RequireEqual(await RebuildClient.RunAsync(host.Admin, compareOnly: true));
        Assert.Equal("1 2 4", await JudgedAgainAsync(host, works.CorrectedForming(formed.Id, 700, "B1", 0, 3)));
        Assert.DoesNotContain(await FindingsAsync(host.Database), f => f.EndsWith("batch-overdrawn", StringComparison.Ordinal));
    }

    [Fact]
    public async Task A_batch_that_is_split_takes_its_history_along_and_the_scope_of_a_lot_reaches_both()
    {
        await using var host = await ServiceHost.StartAsync();
        var works = new OvenWorks(7, Start);
        var soaked = works.Soaked("B1", 5, 40);
        await Terminal.PostAllAsync(
            host.Admin,
            [
                .. works.Definitions(), works.Formed("B1", 0, count: 4), soaked, works.Split("B2", "B1", 40.2, 2), .. works.Dropped(1, "B1", 41), .. works.Dropped(2, "B2", 41),
                works.Formed("B9", 0), works.Soaked("B9", 5, 40, "G2"), .. works.Dropped(3, "B9", 41),
            ],
            batch: 1);
        await Tables.SettleAsync(host.Database);
        Assert.Equal([], await FindingsAsync(host.Database));
        Assert.Equal(["1", "2"], (await GetAsync<ScopeAnswer>(host.Admin, "/api/lots/GR/G1/scope")).Members.Where(m => m.Verdict == "proven").Select(m => m.Serial));
        var record = await GetAsync<BuildRecord>(host.Admin, "/api/units/HOUSING/2/build-record");
        Assert.Equal(["batch-split", "batch-formed", "batch-step-completed"], record.BatchRecords.Select(r => r.Type));
        var (first, second) = (await GetAsync<BatchView>(host.Admin, "/api/batches/HOUSING/B1"), await GetAsync<BatchView>(host.Admin, "/api/batches/HOUSING/B2"));
        Assert.Equal((2, "B1", 2), (second.Count, second.SplitFrom!.Batch, second.SplitFrom.Count));
        Assert.Equal(("B2", 2, 4), (Assert.Single(first.Splits).Batch, first.Splits[0].Count, first.Count));

        // What is corrected of the first batch is corrected of both; the third has nothing to do with it.
        Assert.Equal("1 2", await JudgedAgainAsync(host, works.CorrectedSoak(soaked.Id, 500, "B1", 25, 40)));
        Assert.Equal(["HOUSING/1 interval-too-short", "HOUSING/2 interval-too-short"], await FindingsAsync(host.Database));
        Assert.Equal("1 2", await JudgedAgainAsync(host, works.Held("GR", "G1", 10)));
        Assert.Equal("1 2", await JudgedAgainAsync(host, works.Voided(soaked.Id, 600)));
        Assert.Equal(["1 possible", "2 possible"], (await GetAsync<ScopeAnswer>(host.Admin, "/api/lots/GR/G1/scope")).Members.Select(m => $"{m.Serial} {m.Verdict}"));

        // One more is split off than there are for units: one unit of the first is beyond, and of the second none.
        await PostAsync(host, works.Split("B3", "B1", 42, 2));
        Assert.Equal(["HOUSING/1 batch-overdrawn"], (await FindingsAsync(host.Database)).Where(f => f.EndsWith("batch-overdrawn", StringComparison.Ordinal)));
        Assert.Equal("batch-overdrawn", Assert.Single((await GetAsync<BatchView>(host.Admin, "/api/batches/HOUSING/B1")).Findings).Kind);
        await RebuildClient.RequireFreshAsync(host.Database);
        RebuildClient.RequireEqual(await RebuildClient.RunAsync(host.Admin));
        await RebuildClient.RequireFreshAsync(host.Database);
    }

    [Fact]
    public async Task Units_that_two_instances_take_out_of_a_batch_at_once_are_counted_by_both()
    {
        await using var host = await ServiceHost.StartAsync();
        await using var other = await ServiceHost.StartBesideAsync(host);
        var works = new OvenWorks(8, Start);
        await Terminal.PostAllAsync(host.Admin, [.. works.Definitions(), works.Formed("B1", 0, count: 10), works.Soaked("B1", 5, 40)], batch: 1);
        List<Sent> openings = [.. Enumerable.Range(1, 20).Select(i => works.Dropped(i, "B1", 41 + i)[0])];
        await Task.WhenAll(openings.Select((o, i) => Terminal.PostAllAsync(i % 2 == 0 ? host.Admin : other.Admin, [o], batch: 1)));
        await Tables.SettleAsync(host.Database);
        Assert.Equal(10, (await FindingsAsync(host.Database)).Count(f => f.EndsWith("batch-overdrawn", StringComparison.Ordinal)));
        await RebuildClient.RequireFreshAsync(host.Database);
    }

    [Theory]
    [InlineData(21)]
    public async Task The_same_facts_in_any_order_or_imported_or_rebuilt_give_the_same_judgements(int seed)
    {
        var facts = Random((ulong)seed, new OvenWorks((ulong)seed, Start)).Facts;
        await using var inOrder = await ServiceHost.StartAsync();
        await HistoryClient.PostAllAsync(inOrder.Admin, facts);
        await RebuildClient.RequireFreshAsync(inOrder.Database);
        var expected = await Tables.DerivedAsync(inOrder.Database);
        Assert.Contains(expected, l => l.Contains("pot-life", StringComparison.Ordinal));
        Assert.Contains(expected, l => l.Contains("life-used", StringComparison.Ordinal));
        Assert.Contains(expected, l => l.Contains("batch-overdrawn", StringComparison.Ordinal));
        RebuildClient.RequireEqual(await RebuildClient.RunAsync(inOrder.Admin));
        Tables.RequireNone(Tables.Difference(expected, await Tables.DerivedAsync(inOrder.Database)));

        await using var shuffled = await ServiceHost.StartAsync();
        await HistoryClient.PostAllAsync(shuffled.Admin, new Dice((ulong)seed).Shuffled(facts));
        await RebuildClient.RequireFreshAsync(shuffled.Database);
        Tables.RequireNone(Tables.Difference(expected, await Tables.DerivedAsync(shuffled.Database)));

        await using var imported = await ServiceHost.StartAsync();
        await HistoryClient.ImportAllAsync(imported.Admin, facts);
        await RebuildClient.RequireFreshAsync(imported.Database);
        Tables.RequireNone(Tables.Difference(expected, await Tables.DerivedAsync(imported.Database)));
    }

    [Fact]
    public async Task After_every_one_of_many_random_changes_the_rows_are_those_of_a_full_recomputation()
    {
        await using var host = await ServiceHost.StartAsync();
        var dice = new Dice(6);
        var works = new OvenWorks(6, Start);
        var (facts, mixes, soaks, readings, formings, openings) = Random(6, works);
        await Terminal.PostAllAsync(host.Admin, facts, batch: 1);
        for (var i = 0; i < (TestLength.IsLong ? 500 : 20); i++)
        {
            var (mix, lot) = dice.Pick(mixes);
            var (soak, batch) = dice.Pick(soaks);
            var reading = dice.Pick(readings);
            var (forming, formedAs) = dice.Pick(formings);
            var (opening, serial) = dice.Pick(openings);
            Sent change = dice.Int(0, 13) switch
            {
                10 or 11 => formedAs == "B4"
                    ? works.CorrectedSplit(forming.Id, 5_000 + i, "B4", dice.Pick("B1", "B2", "B3"), dice.Pick(38, 40.1), dice.Int(1, 3))
                    : works.CorrectedForming(forming.Id, 5_000 + i, formedAs, 0, dice.Int(1, 6)),
                12 => works.CorrectedOpening(opening.Id, 5_000 + i, serial, $"B{dice.Int(1, 4)}", 40 + dice.Int(0, 3)),
                13 => works.Voided(dice.Pick(forming.Id, opening.Id), 5_000 + i),
                0 => works.Mix(-4_000 + i, dice.Pick("PT20M", "PT15M", "PT30M")),
                1 => works.Voided(dice.Pick(mix.Id, soak.Id, reading.Id), 5_000 + i),
                <= 3 => works.CorrectedMix(mix.Id, 5_000 + i, lot, dice.Int(40, 90), dice.Pick(50m, 60m)),
                <= 6 => works.CorrectedSoak(soak.Id, 5_000 + i, batch, dice.Int(0, 25), 40, dice.Pick("G1", "G2")),
                7 => works.Calibrated(5_000 + i, dice.Chance(50)),
                _ => works.CorrectedReading(reading.Id, 5_000 + i, (dice.Int(5, 13) * 10, dice.Int(12, 28))),
            };
            await Terminal.PostAllAsync(host.Admin, [change], batch: 1);
            while (await Tables.CountAsync(host.Database, "traceability.rejudge") > 0)
            {
                await Task.Delay(10);
            }

            Tables.RequireNone(await FreshJudgement.DifferencesAsync(host.Database));
        }
    }

    private static Chosen Random(ulong seed, OvenWorks works)
    {
        var dice = new Dice(seed);
        List<Sent> readings = [.. Enumerable.Range(0, 12).Where(i => i is < 5 or > 7).Select(i => works.Read((40 + (i * 10), dice.Int(12, 27))))];
        List<(Sent, string)> mixes = [.. Enumerable.Range(1, 3).Select(i => (works.Mixed($"M{i}", 40 + (i * 10), dice.Pick(50m, 52m, 60m)), $"M{i}"))];
        List<(Sent, string)> soaks = [.. Enumerable.Range(1, 3).Select(i => (works.Soaked($"B{i}", dice.Int(5, 25), 40, dice.Pick("G1", "G2")), $"B{i}"))];

        // The fourth batch is split off the first, after which that one has fewer than are taken out of it.
        List<(Sent, string)> formings = [.. Enumerable.Range(1, 3).Select(i => (works.Formed($"B{i}", 0), $"B{i}")), (works.Split("B4", "B1", 40.1, 1), "B4")];
        List<(Sent, int)> openings = [];
        List<Sent> facts = [.. works.Definitions(), .. readings, .. mixes.Select(m => m.Item1), .. formings.Select(f => f.Item1), .. soaks.Select(s => s.Item1)];
        for (var serial = 1; serial <= 11; serial++)
        {
            var dropped = works.Dropped(serial, serial <= 9 ? $"B{1 + (serial % 3)}" : "B4", 40 + dice.Int(0, 3));
            openings.Add((dropped[0], serial));
            facts.AddRange(dropped);
            facts.AddRange(dice.Chance(80) ? [works.Potted(serial, $"M{dice.Int(1, 3)}", 55 + dice.Int(0, 60))] : []);
        }

        return new(facts, mixes, soaks, readings, formings, openings);
    }

    private sealed record Chosen(
        List<Sent> Facts,
        List<(Sent Fact, string Lot)> Mixes,
        List<(Sent Fact, string Batch)> Soaks,
        List<Sent> Readings,
        List<(Sent Fact, string Batch)> Formings,
        List<(Sent Fact, int Serial)> Openings);

    private static async Task PostAsync(ServiceHost host, Sent fact)
    {
        await Terminal.PostAllAsync(host.Admin, [fact], batch: 1);
        await Tables.SettleAsync(host.Database);
    }

    // The serials of the units that are judged again when a fact arrives.
    private static async Task<string> JudgedAgainAsync(ServiceHost host, Sent fact)
    {
        const string Sql = "select unit || ' ' || judgement from traceability.unit";
        var before = await ListAsync(host.Database, Sql);
        await PostAsync(host, fact);
        return string.Join(' ', (await ListAsync(host.Database, Sql)).Except(before, StringComparer.Ordinal).Select(l => l.Split('/', ' ')[1]).Order(StringComparer.Ordinal));
    }

    // That a step with a finding has not passed for the next one goes without saying.
    private static Task<List<string>> FindingsAsync(NpgsqlDataSource database) =>
        ListAsync(database, "select unit || ' ' || kind from traceability.finding where kind <> 'prerequisite-not-passed' order by 1");

    private static async Task<List<string>> ListAsync(NpgsqlDataSource database, string sql)
    {
        List<string> lines = [];
        await using var command = database.CreateCommand(sql);
        await using var reader = await command.ExecuteReaderAsync();
        while (await reader.ReadAsync())
        {
            lines.Add(reader.GetString(0));
        }

        return lines;
    }

    private static async Task<T> GetAsync<T>(HttpClient client, string path) =>
        JsonSerializer.Deserialize<T>(await client.GetStringAsync(path), WireJson.Options)!;
}
