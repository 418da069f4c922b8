using System.Net.Http.Json;
using System.Text.Json;
using Npgsql;
using Traceability.Acceptance.History;
using Traceability.Acceptance.Rebuilds;
using Traceability.Acceptance.Robustness;
using Traceability.Contracts;
using Traceability.Contracts.Definitions;
using Traceability.Contracts.Intervals;
using Traceability.Contracts.Units;
using Traceability.Testing;

namespace Traceability.Acceptance.Cure;

/// <summary>When has it cured, given how warm it was? And what does a late or corrected reading change?</summary>
public sealed class CureTests
{
    private static readonly DateTimeOffset Start = LampWorks.DaysAgo(6);

    [Fact]
    public async Task Ready_at_comes_with_its_assumption_and_a_colder_reading_moves_it()
    {
        await using var host = await ServiceHost.StartAsync();
        var now = TimeProvider.System.GetUtcNow();
        var bonded = now.AddMinutes(-6);
        var works = new CureWorks(1, now);
        await Terminal.PostAllAsync(host.Admin, [.. works.Definitions(), .. works.Bonded(1, -6, "ST-1"), works.Read("ST-1", (-6.2, 25m)), works.Read("ST-1", (-1, 25m))], batch: 1);
        await Tables.SettleAsync(host.Database);

        var warm = Assert.Single((await GetAsync<OpenIntervals>(host.Admin, "/api/intervals/open")).Intervals);
        Assert.InRange((warm.ReadyAt!.Value - bonded).TotalMinutes, 20, 20.02);
        Assert.StartsWith("If it stays at the last reading, 25 Cel at ", warm.Assumption, StringComparison.Ordinal);
        Assert.Equal(IntervalState.NotReady, warm.State);
        var view = Assert.Single((await GetAsync<UnitView>(host.Admin, "/api/units/SENSOR/1")).OpenIntervals);
        Assert.Equal((warm.ReadyAt, warm.Assumption, warm.AssumedUntil), (view.ReadyAt, view.Assumption, view.AssumedUntil));

        var answer = await AskAsync(host.Admin, 1);
        Assert.Equal(ReadinessVerdict.Wait, answer.Answer);

        // The uncertainty of the clock comes on top of it.
        Assert.InRange((answer.WaitUntil!.Value - bonded).TotalMinutes, 20, 20.2);
        Assert.StartsWith("Cure: If it stays at the last reading, 25 Cel at ", Assert.Single(answer.Assumptions), StringComparison.Ordinal);

        await Terminal.PostAllAsync(host.Admin, [works.Read("ST-1", (-0.2, 15m))], batch: 1);
        await Tables.SettleAsync(host.Database);
        var colder = Assert.Single((await GetAsync<OpenIntervals>(host.Admin, "/api/intervals/open")).Intervals);
        Assert.True(colder.ReadyAt > warm.ReadyAt!.Value.AddMinutes(20), $"{warm.ReadyAt} {colder.ReadyAt}");

        await Terminal.PostAllAsync(host.Admin, [works.Read("ST-1", (-0.1, 2m))], batch: 1);
        await Tables.SettleAsync(host.Database);
        var cold = Assert.Single((await GetAsync<OpenIntervals>(host.Admin, "/api/intervals/open")).Intervals);
        Assert.Equal((null, IntervalState.NotReady), (cold.ReadyAt, cold.State));
        Assert.EndsWith("it does not cure.", cold.Assumption, StringComparison.Ordinal);
        Assert.Equal(ReadinessVerdict.No, (await AskAsync(host.Admin, 1)).Answer);
        Assert.Equal("PT1H", System.Xml.XmlConvert.ToString((await GetAsync<ItemView>(host.Admin, "/api/items/ADH")).Cure!.Rows[0].Full!.Value));
    }

    [Fact]
    public async Task A_late_or_corrected_reading_judges_exactly_the_units_again_that_looked_at_it()
    {
        await using var host = await ServiceHost.StartAsync();
        var works = new CureWorks(2, Start);
        var first = works.Read("ST-1", (0, 15m), (25, 15m), (50, 15m), (75, 15m));
        await Terminal.PostAllAsync(
            host.Admin,
            [
                .. works.Definitions(),
                first, works.Read("ST-2", (0, 15m), (25, 15m), (50, 15m), (75, 15m)),
                .. works.Bonded(1, 5, "ST-1"), works.Loaded(1, 66),
                .. works.Bonded(2, 5, "ST-2"), works.Loaded(2, 66),
                .. works.Bonded(3, 2_000, "ST-1"), works.Loaded(3, 2_100),
                .. works.Bonded(4, 2_000, "ST-1"),
            ],
            batch: 1);
        await Tables.SettleAsync(host.Database);
        Assert.Equal([], await FindingsAsync(host.Database));

        // Unit 1 looked at it; unit 2 elsewhere, units 3 and 4 only later.
        Assert.Equal("1", await JudgedAgainAsync(host, works.Corrected(first.Id, 3_000, "ST-1", (0, 15m), (25, 14m), (50, 15m), (75, 15m))));
        Assert.Equal(["SENSOR/1 interval-too-short"], await FindingsAsync(host.Database));
        Assert.Equal("", await JudgedAgainAsync(host, works.Read("ST-1", (1_000, 5m))));
        Assert.Equal("2", await JudgedAgainAsync(host, works.Read("ST-2", (40, 5m))));
        Assert.Equal(["SENSOR/1 interval-too-short", "SENSOR/2 interval-too-short"], await FindingsAsync(host.Database));
        Assert.Equal("3 4", await JudgedAgainAsync(host, works.Read("ST-1", (2_010, 15m))));
        Assert.Equal("4", await JudgedAgainAsync(host, works.Read("ST-1", (4_000, 15m))));
        Assert.Equal("1", await JudgedAgainAsync(host, works.Voided(first.Id, 4_100)));
        Assert.Equal(["SENSOR/1 interval-too-short", "SENSOR/2 interval-too-short", "SENSOR/3 interval-undetermined"], await FindingsAsync(host.Database));
        await RebuildClient.RequireFreshAsync(host.Database);
    }

    [Theory]
    [InlineData(11)]
    [InlineData(12)]
    public async Task The_same_facts_in_any_order_or_imported_or_rebuilt_give_the_same_judgements(int seed)
    {
        var facts = Random((ulong)seed);
        await using var inOrder = await ServiceHost.StartAsync();
        await HistoryClient.PostAllAsync(inOrder.Admin, facts);
        await RebuildClient.RequireFreshAsync(inOrder.Database);
        var expected = await Tables.DerivedAsync(inOrder.Database);
        Assert.Contains(expected, l => l.Contains("cure-dose", StringComparison.Ordinal));
        Assert.Contains(expected, l => l.Contains("cure-fallback", StringComparison.Ordinal));
        Assert.Contains(expected, l => l.StartsWith("cure_window ", StringComparison.Ordinal));
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
        var dice = new Dice(5);
        var works = new CureWorks(5, Start);
        List<Sent> readings = [.. Enumerable.Range(0, 20).Select(i => works.Read(dice.Pick("ST-1", "ST-2"), (i * 10, dice.Int(12, 27))))];
        List<Sent> facts = [.. works.Definitions(), .. readings];
        for (var unit = 1; unit <= 12; unit++)
        {
            facts.AddRange(works.Bonded(unit, unit * 15, dice.Pick("ST-1", "ST-2")));
            facts.AddRange(dice.Chance(75) ? [works.Loaded(unit, (unit * 15) + dice.Int(15, 70))] : []);
        }

        await Terminal.PostAllAsync(host.Admin, facts, batch: 50);
        for (var i = 0; i < (TestLength.IsLong ? 1_000 : 25); i++)
        {
            var at = dice.Int(0, 20) * 10;
            var which = dice.Pick(readings);
            var place = which.Json.Contains("ST-1", StringComparison.Ordinal) ? "ST-1" : "ST-2";
            Sent change = dice.Int(0, 9) switch
            {
                0 => works.Adhesive(-4_000 + i, dice.Pick("PT1H", "PT50M", "PT90M")),
                <= 2 => works.Voided(which.Id, 5_000 + i),
                <= 4 => works.Read(dice.Pick("ST-1", "ST-2"), (at + dice.Int(0, 9), dice.Int(5, 30))),
                _ => works.Corrected(which.Id, 5_000 + i, place, (at, dice.Int(5, 30))),
            };
            await Terminal.PostAllAsync(host.Admin, [change], batch: 1);
            while (await Tables.CountAsync(host.Database, "traceability.rejudge") > 0)
            {
                await Task.Delay(10);
            }

            Tables.RequireNone(await FreshJudgement.DifferencesAsync(host.Database));
        }
    }

    [Fact]
    public async Task Readings_of_an_unknown_place_are_refused_and_a_station_may_report_those_of_another_place()
    {
        await using var host = await ServiceHost.StartAsync();
        var works = new CureWorks(3, Start);
        await Terminal.PostAllAsync(host.Admin, works.Definitions(), batch: 50);
        var refused = await Terminal.PostAsync(host.Admin, works.Read("OVEN-9", (0, 20m)));
        Assert.Equal((404, "station-unknown"), (refused.Status, refused.Code));
        Assert.Contains("/place", refused.Body.ToString(), StringComparison.Ordinal);
        var own = works.Read("ST-2", (0, 20m));
        Assert.Equal(201, (await Terminal.PostAsync(host.Station, own with { Json = LampWorks.With(own.Json, "station", "ST-1") })).Status);
    }

    private static List<Sent> Random(ulong seed)
    {
        var dice = new Dice(seed);
        var works = new CureWorks(seed, Start);
        List<Sent> facts = works.Definitions();

        // Some hours at each station, with a gap, and nothing at all of the last units.
        List<Sent> readings = [.. new[] { "ST-1", "ST-2" }.SelectMany(place => Enumerable.Range(0, 20).Where(i => i is < 8 or > 11).Select(i =>
            works.Read(place, (i * 10, dice.Int(12, 27)), ((i * 10) + dice.Int(1, 9), dice.Int(12, 27)))))];
        facts.AddRange(readings);
        for (var unit = 1; unit <= 16; unit++)
        {
            var at = unit > 13 ? unit * 100 : unit * 12;
            facts.AddRange(works.Bonded(unit, at, dice.Pick("ST-1", "ST-2")));
            facts.AddRange(dice.Chance(80) ? [works.Loaded(unit, at + dice.Int(15, 80))] : []);
        }

        facts.AddRange(readings.Where(_ => dice.Chance(10)).Select(r => works.Voided(r.Id, 5_000)));
        facts.Add(works.Adhesive(-4_000, "PT55M"));
        return facts;
    }

    // The serials of the units that are judged again when a fact arrives.
    private static async Task<string> JudgedAgainAsync(ServiceHost host, Sent fact)
    {
        const string Sql = "select unit || ' ' || judgement from traceability.unit";
        var before = await ListAsync(host.Database, Sql);
        Assert.Equal(201, (await Terminal.PostAsync(host.Admin, fact)).Status);
        await Tables.SettleAsync(host.Database);
        return string.Join(' ', (await ListAsync(host.Database, Sql)).Except(before, StringComparer.Ordinal).Select(l => l.Split('/', ' ')[1]).Order(StringComparer.Ordinal));
    }

    private static Task<List<string>> FindingsAsync(NpgsqlDataSource database) =>
        ListAsync(database, "select unit || ' ' || kind from traceability.finding order by 1");

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

    private static async Task<ReadinessAnswer> AskAsync(HttpClient client, int serial)
    {
        using var answer = await client.PostAsJsonAsync($"/api/units/SENSOR/{serial}/steps/LOAD/readiness", new { station = "ST-1", person = "P-9" });
        var text = await answer.Content.ReadAsStringAsync();
        Assert.True(answer.IsSuccessStatusCode, text);
        return JsonSerializer.Deserialize<ReadinessAnswer>(text, WireJson.Options)!;
    }
}
