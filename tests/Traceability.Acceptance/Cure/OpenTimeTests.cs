using System.Net.Http.Json;
using System.Text.Json;
using Npgsql;
using Traceability.Acceptance.History;
using Traceability.Acceptance.Rebuilds;
using Traceability.Acceptance.Robustness;
using Traceability.Contracts;
using Traceability.Contracts.Definitions;
using Traceability.Contracts.Intervals;
using Traceability.Testing;

namespace Traceability.Acceptance.Cure;

/// <summary>Until when must it be joined, given how warm it is? And what does a late or corrected reading change?</summary>
public sealed class OpenTimeTests
{
    private static readonly DateTimeOffset Start = LampWorks.DaysAgo(6);

    [Fact]
    public async Task Asked_first_it_says_until_when_with_the_assumption_and_the_board_judges_by_what_was_read()
    {
        await using var host = await ServiceHost.StartAsync();
        var now = TimeProvider.System.GetUtcNow();
        var applied = now.AddMinutes(-6);
        var works = new CureWorks(31, now);
        await Terminal.PostAllAsync(
            host.Admin, [.. works.Definitions(isOpenTime: true), .. works.Bonded(1, -6, "ST-1"), works.Read("ST-1", (-6.2, 25m)), works.Read("ST-1", (-1, 25m)), .. works.Bonded(2, -45, "ST-2")], batch: 1);
        await Tables.SettleAsync(host.Database);

        var answer = await AskAsync(host.Admin, 1);
        Assert.Equal(ReadinessVerdict.Go, answer.Answer);
        var deadline = Assert.Single(answer.Deadlines);
        Assert.Equal(("CURE", "started"), (deadline.Rule, deadline.EndsAt));
        Assert.InRange((deadline.Until!.Value - applied).TotalMinutes, 19.7, 20.01);
        Assert.StartsWith("If it stays at the last reading, 25 Cel at ", deadline.Assumption, StringComparison.Ordinal);

        var open = (await GetAsync<OpenIntervals>(host.Admin, "/api/intervals/open")).Intervals.ToDictionary(i => i.Unit.Serial);
        Assert.Equal(IntervalState.Ready, open["1"].State);
        Assert.InRange((open["1"].OverdueAt!.Value - applied).TotalMinutes, 19.7, 20.01);
        Assert.Equal((IntervalState.Overdue, "The fixed open time of 30 min is taken, since no temperature is recorded at ST-2."), (open["2"].State, open["2"].Assumption));
        Assert.Equal(["2"], (await GetAsync<IntervalViolations>(host.Admin, "/api/intervals/violations")).Open.Select(i => i.Unit.Serial));

        // Hotter than the table tells: it may be over, and no time can be told.
        await Terminal.PostAllAsync(host.Admin, [works.Read("ST-1", (-0.5, 40m))], batch: 1);
        await Tables.SettleAsync(host.Database);
        var hot = (await GetAsync<OpenIntervals>(host.Admin, "/api/intervals/open")).Intervals.Single(i => i.Unit.Serial == "1");
        Assert.Equal((IntervalState.Undetermined, (DateTimeOffset?)null), (hot.State, hot.OverdueAt));
        var no = await AskAsync(host.Admin, 1);
        Assert.Equal((ReadinessVerdict.No, "interval-undetermined"), (no.Answer, Assert.Single(no.Reasons).Kind));
        Assert.Equal(2, (await GetAsync<ItemView>(host.Admin, "/api/items/ADH")).OpenTimeByTemperature!.Rows.Count);
        Assert.Equal("GLUE", (await GetAsync<RoutingView>(host.Admin, "/api/routings/SENSOR")).Released[0].Intervals![0].OpenTimeOf);
    }

    [Fact]
    public async Task A_late_or_corrected_reading_judges_exactly_the_units_again_that_looked_at_it()
    {
        await using var host = await ServiceHost.StartAsync();
        var works = new CureWorks(32, Start);
        var first = works.Read("ST-1", (0, 15m), (25, 15m), (50, 15m), (75, 15m));
        await Terminal.PostAllAsync(
            host.Admin,
            [
                .. works.Definitions(isOpenTime: true), first, .. works.Bonded(1, 5, "ST-1"), works.Loaded(1, 44), .. works.Bonded(2, 5, "ST-2"), works.Loaded(2, 30),
                .. works.Bonded(3, 2_000, "ST-1"), works.Loaded(3, 2_029),
            ],
            batch: 1);
        await Tables.SettleAsync(host.Database);
        Assert.Equal([], await FindingsAsync(host.Database));
        Assert.Equal("1", await JudgedAgainAsync(host, works.Corrected(first.Id, 3_000, "ST-1", (0, 15m), (25, 25m), (50, 15m), (75, 15m))));
        Assert.Equal(["SENSOR/1 interval-too-long"], await FindingsAsync(host.Database));
        Assert.Equal("3", await JudgedAgainAsync(host, works.Read("ST-1", (2_005, 25m))));
        Assert.Equal("2", await JudgedAgainAsync(host, works.Read("ST-2", (5, 25m), (25, 25m))));
        Assert.Equal(["SENSOR/1 interval-too-long", "SENSOR/2 interval-too-long", "SENSOR/3 interval-too-long"], await FindingsAsync(host.Database));
        Assert.Equal("1 2 3", await JudgedAgainAsync(host, works.Spread(-4_000, "PT90M")));
        await RebuildClient.RequireFreshAsync(host.Database);
        RebuildClient.RequireEqual(await RebuildClient.RunAsync(host.Admin));
    }

    [Fact]
    public async Task After_every_one_of_many_random_changes_the_rows_are_those_of_a_full_recomputation()
    {
        await using var host = await ServiceHost.StartAsync();
        var dice = new Dice(33);
        var works = new CureWorks(33, Start);
        List<Sent> readings = [.. Enumerable.Range(0, 20).Select(i => works.Read(dice.Pick("ST-1", "ST-2"), (i * 10, dice.Int(12, 27))))];
        List<Sent> facts = [.. works.Definitions(isOpenTime: true), .. readings];
        for (var unit = 1; unit <= 12; unit++)
        {
            facts.AddRange(works.Bonded(unit, unit * 15, dice.Pick("ST-1", "ST-2")));
            facts.AddRange(dice.Chance(75) ? [works.Loaded(unit, (unit * 15) + dice.Int(10, 50))] : []);
        }

        await HistoryClient.PostAllAsync(host.Admin, dice.Shuffled(facts));
        await RebuildClient.RequireFreshAsync(host.Database);
        for (var i = 0; i < (TestLength.IsLong ? 300 : 15); i++)
        {
            var which = dice.Pick(readings);
            var place = which.Json.Contains("ST-1", StringComparison.Ordinal) ? "ST-1" : "ST-2";
            Sent change = dice.Int(0, 9) switch
            {
                0 => works.Spread(-4_000 + i, dice.Pick("PT40M", "PT30M", "PT90M")),
                <= 2 => works.Voided(which.Id, 5_000 + i),
                <= 5 => works.Read(dice.Pick("ST-1", "ST-2"), (dice.Int(0, 200), dice.Int(5, 30))),
                _ => works.Corrected(which.Id, 5_000 + i, place, (dice.Int(0, 20) * 10, dice.Int(5, 30))),
            };
            await Terminal.PostAllAsync(host.Admin, [change], batch: 1);
            while (await Tables.CountAsync(host.Database, "traceability.rejudge") > 0)
            {
                await Task.Delay(10);
            }

            Tables.RequireNone(await FreshJudgement.DifferencesAsync(host.Database));
        }
    }

    private static async Task<ReadinessAnswer> AskAsync(HttpClient client, int serial)
    {
        using var answer = await client.PostAsJsonAsync($"/api/units/SENSOR/{serial}/steps/LOAD/readiness", new { station = "ST-1", person = "P-9" });
        var text = await answer.Content.ReadAsStringAsync();
        Assert.True(answer.IsSuccessStatusCode, text);
        return JsonSerializer.Deserialize<ReadinessAnswer>(text, WireJson.Options)!;
    }

    private static async Task<string> JudgedAgainAsync(ServiceHost host, Sent fact)
    {
        const string Sql = "select unit || ' ' || judgement from traceability.unit";
        var before = await ListAsync(host.Database, Sql);
        await Terminal.PostAllAsync(host.Admin, [fact], batch: 1);
        await Tables.SettleAsync(host.Database);
        return string.Join(' ', (await ListAsync(host.Database, Sql)).Except(before, StringComparer.Ordinal).Select(l => l.Split('/', ' ')[1]).Order(StringComparer.Ordinal));
    }

    private static Task<List<string>> FindingsAsync(NpgsqlDataSource database) => ListAsync(database, "select unit || ' ' || kind from traceability.finding order by 1");

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

    private static async Task<T> GetAsync<T>(HttpClient client, string path) => JsonSerializer.Deserialize<T>(await client.GetStringAsync(path), WireJson.Options)!;
}
