using System.Globalization;
using Npgsql;
using Traceability.Contracts.Yield;
using Traceability.Service.Features.Rebuilds;
using Traceability.Service.Features.Yield;
using Traceability.Service.Tests.Reading;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Service.Tests.Yield;

public sealed class YieldAnswerTests
{
    private const string March = "item=FP-2&from=2026-03-01&to=2026-03-31";

    private static readonly DateOnly Day = new(2026, 3, 2);

    [Fact]
    public async Task An_answer_holds_changes_that_are_not_folded_yet_and_says_how_many()
    {
        await using var host = await StartAsync();
        await host.StoreAsync(
            Judged.Unit("1", [Judged.Step("BOND", Day), Judged.Step("TEST", Day)], variant: "FP-2"),
            Judged.Unit("2", [Judged.Step("BOND", Day, passed: false), Judged.Step("BOND", Day.AddDays(1), attempt: 2, rework: true)], variant: "FP-2C"));
        await host.FoldAsync();
        await host.StoreAsync(Judged.Unit("3", [Judged.Step("BOND", Day, station: "ST-2"), Judged.Step("TEST", Day, passed: false, defects: 3)]).Ended(Day, passed: false));

        string[] questions = ["steps?" + March, "steps?by=day,station,variant,step,revision&" + March, "steps?by=station,day&step=BOND&" + March, "units?by=day&" + March, "throughput?" + March];
        var pending = await Task.WhenAll(questions.Select(q => host.GetTextAsync("/api/yield/" + q)));
        Assert.Equal([2, 2, 1, 1, 2], pending.Select(p => PendingOf(p)));

        await host.FoldAsync();
        var folded = await Task.WhenAll(questions.Select(q => host.GetTextAsync("/api/yield/" + q)));
        Assert.All(folded, f => Assert.Equal(0, PendingOf(f)));
        Assert.Equal(pending.Select(p => p.Replace($"\"pending\":{PendingOf(p)}", "\"pending\":0", StringComparison.Ordinal)), folded);
    }

    [Fact]
    public async Task Cells_count_first_attempts_reworks_retests_and_defects_and_the_total_is_their_sum()
    {
        await using var host = await StartAsync();
        await host.StoreAsync(
            Judged.Unit("1", [Judged.Step("BOND", Day), Judged.Step("TEST", Day, passed: false, defects: 2), Judged.Step("TEST", Day, attempt: 2)]),
            Judged.Unit("2", [Judged.Step("BOND", Day, passed: false), Judged.Step("BOND", Day, attempt: 2, rework: true)]),
            Judged.Unit("3", [Judged.Step("BOND", Day, rework: true)]));

        var answer = await host.GetAsync<StepYields>("/api/yield/steps?by=step&" + March);

        Assert.Equal(["BOND", "TEST"], answer.Cells.Select(c => c.Step));
        var bond = answer.Cells[0].Figures;
        Assert.Equal((1, 3), (bond.FirstPassYield.Numerator, bond.FirstPassYield.Denominator));
        Assert.Equal((4, 2, 0), (bond.Attempts, bond.Reworks, bond.Retests));
        Assert.Equal((2, 4, 0.5), (bond.ReworkedAttemptRatio.Numerator, bond.ReworkedAttemptRatio.Denominator, bond.ReworkedAttemptRatio.Estimate));
        var test = answer.Cells[1].Figures;
        Assert.Equal((0, 1, 1, 2), (test.FirstPassYield.Numerator, test.FirstPassYield.Denominator, test.Retests, test.Attempts));
        Assert.Equal((2, 2, 1.0), (test.DefectsPerAttempt.Count, test.DefectsPerAttempt.Exposure, test.DefectsPerAttempt.Estimate));
        Assert.Equal((2, 8, 250_000.0), (test.DefectsPerMillionOpportunities.Count, test.DefectsPerMillionOpportunities.Exposure, test.DefectsPerMillionOpportunities.Estimate));
        Assert.Equal((1, 4, 6), (answer.Total.FirstPassYield.Numerator, answer.Total.FirstPassYield.Denominator, answer.Total.Attempts));
        Assert.Null(answer.Cells[0].Day);
    }

    [Fact]
    public async Task A_share_comes_with_its_Wilson_interval()
    {
        await using var host = await StartAsync();
        await host.StoreAsync([.. Enumerable.Range(0, 200).Select(i => Judged.Unit(i.ToString(CultureInfo.InvariantCulture), [Judged.Step("BOND", Day, passed: i < 26)]))]);

        var share = (await host.GetAsync<StepYields>("/api/yield/steps?" + March)).Total.FirstPassYield;

        // R 4.2.2, prop.test(26, 200, correct = FALSE).
        Assert.Equal((26, 200, 0.13), (share.Numerator, share.Denominator, share.Estimate));
        Assert.Equal(0.0902820227966932, share.Lower!.Value, 12);
        Assert.Equal(0.183663518722484, share.Upper!.Value, 12);
    }

    [Fact]
    public async Task A_zero_denominator_is_written_as_null_and_not_as_zero()
    {
        await using var host = await StartAsync();
        await host.StoreAsync(Judged.Unit("1", [Judged.Step("BOND", Day, attempt: 2, passed: false, defects: 3, opportunities: 0)]));

        var text = await host.GetTextAsync("/api/yield/steps?" + March);
        Assert.Contains("\"firstPassYield\":{\"numerator\":0,\"denominator\":0,\"estimate\":null,\"lower\":null,\"upper\":null}", text, StringComparison.Ordinal);
        Assert.Contains("\"defectsPerMillionOpportunities\":{\"count\":3,\"exposure\":0,\"per\":1000000,\"estimate\":null,\"lower\":null,\"upper\":null}", text, StringComparison.Ordinal);

        var empty = await host.GetAsync<StepYields>("/api/yield/steps?item=FP-2&from=2026-05-01&to=2026-05-02");
        Assert.Empty(empty.Cells);
        Assert.Equal((0L, (double?)null), (empty.Total.FirstPassYield.Denominator, empty.Total.FirstPassYield.Estimate));
        Assert.Null((await host.GetAsync<UnitYields>("/api/yield/units?" + March)).Total.ScrapRatio.Estimate);
    }

    [Fact]
    public async Task A_correction_restates_the_day_that_the_record_belongs_to()
    {
        await using var host = await StartAsync();
        await host.StoreAsync(Judged.Unit("1", [Judged.Step("BOND", Day)]).Ended(Day, passed: true), Judged.Unit("2", [Judged.Step("BOND", Day)]));
        await host.FoldAsync();

        // The record was of the next day, and failed; then the unit turns out not to have ended at all.
        await host.StoreAsync(Judged.Unit("1", [Judged.Step("BOND", Day.AddDays(1), passed: false)]).Ended(Day.AddDays(1), passed: false, scrapped: true));
        foreach (var isFolded in new[] { false, true })
        {
            var days = (await host.GetAsync<StepYields>("/api/yield/steps?by=day&" + March)).Cells;
            Assert.Equal([(Day, 1L, 1L), (Day.AddDays(1), 0L, 1L)], days.Select(c => (c.Day!.Value, c.Figures.FirstPassYield.Numerator, c.Figures.FirstPassYield.Denominator)));
            var ends = (await host.GetAsync<UnitYields>("/api/yield/units?by=day&" + March)).Cells;
            Assert.Equal([(Day.AddDays(1), 0L, 1L, 1L)], ends.Select(c => (c.Day!.Value, c.Figures.FirstPassYield.Numerator, c.Figures.FirstPassYield.Denominator, c.Figures.ScrapRatio.Numerator)));
            if (!isFolded)
            {
                await host.FoldAsync();
            }
        }

        await host.StoreAsync(Judged.Unit("1", [Judged.Step("BOND", Day)]));
        Assert.Empty((await host.GetAsync<UnitYields>("/api/yield/units?by=day&" + March)).Cells);
        Assert.Equal((2L, 2L), await BondAsync(host));
        Assert.Empty(await YieldCheck.CheckAsync(host.Database, CancellationToken.None));
    }

    [Fact]
    public async Task Throughput_is_the_product_of_the_steps_and_undefined_while_one_has_no_first_attempt()
    {
        await using var host = await StartAsync();
        await host.StoreAsync(
            Judged.Unit("1", [Judged.Step("BOND", Day), Judged.Step("TEST", Day)], variant: "FP-2"),
            Judged.Unit("2", [Judged.Step("BOND", Day, passed: false), Judged.Step("TEST", Day)], variant: "FP-2"),
            Judged.Unit("3", [Judged.Step("BOND", Day, revision: "OLD"), Judged.Step("TEST", Day, passed: false, revision: "OLD")], variant: "FP-2"));

        var all = await host.GetAsync<ThroughputYield>("/api/yield/throughput?" + March);
        Assert.Equal(["BOND", "COAT", "TEST"], all.Steps.Select(s => s.Step));
        Assert.Equal(["COAT"], all.UndefinedSteps);
        Assert.Null(all.RolledThroughputYield.Estimate);
        Assert.Equal([false, true, false], all.Steps.Select(s => s.IsConditional));
        Assert.True(all.CountsOtherRevisions);

        // The plain variant has no coat. 2 of 3 times 2 of 3; with revision A alone 1 of 2 times 2 of 2.
        var plain = await host.GetAsync<ThroughputYield>("/api/yield/throughput?variant=FP-2&" + March);
        Assert.Empty(plain.UndefinedSteps);
        Assert.Equal(4.0 / 9, plain.RolledThroughputYield.Estimate!.Value, 12);
        Assert.InRange(4.0 / 9, plain.RolledThroughputYield.Lower!.Value, plain.RolledThroughputYield.Upper!.Value);
        var one = await host.GetAsync<ThroughputYield>("/api/yield/throughput?variant=FP-2&revision=A&" + March);
        Assert.Equal((0.5, "A", false), (one.RolledThroughputYield.Estimate, one.Revision, one.CountsOtherRevisions));
        Assert.Contains("\"estimate\":null", await host.GetTextAsync("/api/yield/throughput?" + March), StringComparison.Ordinal);
    }

    [Fact]
    public async Task An_item_without_a_released_routing_has_no_throughput()
    {
        await using var host = await StartAsync();
        await host.DefineAsync(Judged.Item("CA-2"));

        var answer = await host.GetAsync<ThroughputYield>("/api/yield/throughput?item=CA-2");

        Assert.Null(answer.Revision);
        Assert.Empty(answer.Steps);
        Assert.Null(answer.RolledThroughputYield.Estimate);
    }

    [Fact]
    public async Task Without_days_the_last_thirty_are_asked_about_by_the_calendar_of_the_sites()
    {
        await using var host = await StartAsync();
        host.Clock.Now = new(2026, 3, 31, 12, 30, 0, TimeSpan.Zero);
        Assert.Equal(new DateOnly(2026, 3, 31), (await host.GetAsync<StepYields>("/api/yield/steps?item=FP-2")).To);

        // Auckland is 13 hours ahead of UTC until the first Sunday of April (IANA time zone database).
        await host.DefineAsync(Judged.Site("SOUTH", "ST-9", "Pacific/Auckland"));
        foreach (var (now, last) in new[] { ("10:59:59", 31), ("11:00:00", 32), ("12:30:00", 32) })
        {
            host.Clock.Now = new(new DateOnly(2026, 3, 31), TimeOnly.Parse(now, CultureInfo.InvariantCulture), TimeSpan.Zero);
            var answer = await host.GetAsync<StepYields>("/api/yield/steps?item=FP-2");

            Assert.Equal(new DateOnly(2026, 3, 1).AddDays(last - 1), answer.To);
            Assert.Equal(answer.To.AddDays(-29), answer.From);
            Assert.Equal(host.Clock.Now, answer.AsOf);
        }
    }

    [Fact]
    public async Task Every_fault_of_a_query_is_named_at_once()
    {
        await using var host = await StartAsync();

        var problem = await host.GetProblemAsync("/api/yield/steps?from=2026-03-32&to=yesterday&by=day,colour,day&step=a%20b&station=&shift=2");

        Assert.Equal((400, "query-invalid", "/problems/query-invalid"), (problem.Status, problem.Code, problem.Type));
        Assert.Equal(["item", "from", "to", "by", "by", "step", "station", "shift"], problem.Errors!.Select(e => e.Pointer));
        Assert.Contains("item, from, to, by, step, station, variant", problem.Errors![7].Detail, StringComparison.Ordinal);
        Assert.Contains("2026-03-01", problem.Errors![1].Detail, StringComparison.Ordinal);
    }

    [Fact]
    public async Task What_is_not_known_is_a_problem_and_not_an_empty_answer()
    {
        await using var host = await StartAsync();
        foreach (var (question, code, place) in new[]
        {
            ("steps?item=NO-1", "item-unknown", "item"),
            ("steps?item=FP-2&step=GLUE", "step-unknown", "step"),
            ("steps?item=FP-2&station=ST-77", "station-unknown", "station"),
            ("steps?item=FP-2&variant=FP-3", "variant-unknown", "variant"),
            ("throughput?item=FP-2&revision=Z", "revision-unknown", "revision"),
            ("units?item=NO-1", "item-unknown", "item"),
        })
        {
            var problem = await host.GetProblemAsync("/api/yield/" + question);

            Assert.Equal((404, code), (problem.Status, problem.Code));
            Assert.Equal(place, Assert.Single(problem.Errors!).Pointer);
        }
    }

    [Fact]
    public async Task A_period_is_taken_from_one_day_up_to_ten_years()
    {
        // The clock stands at 2 March 2026, which is the 3660th day from 24 February 2016.
        await using var host = await StartAsync();
        foreach (var period in new[] { "from=2016-02-24", "from=2026-03-02&to=2026-03-02", "from=2999-12-31", "to=1900-01-01" })
        {
            Assert.Empty((await host.GetAsync<StepYields>("/api/yield/steps?item=FP-2&" + period)).Cells);
        }

        foreach (var period in new[] { "from=2016-02-23", "from=2026-03-02&to=2026-03-01", "from=1900-01-01&to=2999-12-31" })
        {
            var problem = await host.GetProblemAsync("/api/yield/steps?item=FP-2&" + period);
            Assert.Equal((400, "query-invalid"), (problem.Status, problem.Code));
        }
    }

    [Fact]
    public async Task A_month_is_read_by_the_key_of_the_counters_and_not_by_a_scan()
    {
        await using var host = await StartAsync();
        await host.AskAsync<int>(
            """
            with x as (
              insert into traceability.step_yield_day
              select 'IT-' || i, '', 'A', 'S-' || s, 'ST-' || s % 5, date '2024-01-01' + d, 9, 8, 10, 1, 0, 1, 40
              from generate_series(1, 10) i, generate_series(1, 20) s, generate_series(0, 499) d returning 1)
            select count(*)::int from x
            """);
        await using (var analyze = host.Database.CreateCommand("analyze traceability.step_yield_day"))
        {
            await analyze.ExecuteNonQueryAsync();
        }

        await using var command = host.Database.CreateCommand("explain " + YieldSums.StepSql(["day", "step"]));
        command.Parameters.Add(new() { Value = "IT-3" });
        command.Parameters.Add(new() { Value = new DateOnly(2024, 6, 1) });
        command.Parameters.Add(new() { Value = new DateOnly(2024, 6, 30) });
        for (var i = 0; i < 4; i++)
        {
            command.Parameters.Add(new() { Value = DBNull.Value, NpgsqlDbType = NpgsqlTypes.NpgsqlDbType.Text });
        }

        var plan = await ReadAsync(command);
        Assert.Contains("step_yield_day_pkey", plan, StringComparison.Ordinal);
        Assert.DoesNotContain("Seq Scan on step_yield_day", plan, StringComparison.Ordinal);
    }

    private static async Task<ReadingHost> StartAsync()
    {
        var host = await ReadingHost.StartAsync(Some.Noon);
        await host.DefineAsync(Judged.Item());
        await host.DefineAsync(Judged.Released(new RoutingBuilder("FP-2").Step("BOND").Step("COAT", s => s.AppliesTo(StepBuilder.Variants("FP-2C"))).Step("TEST").Build()));
        return host;
    }

    private static async Task<(long, long)> BondAsync(ReadingHost host)
    {
        var bond = (await host.GetAsync<StepYields>("/api/yield/steps?by=day&" + March)).Cells.Single().Figures.FirstPassYield;
        return (bond.Numerator, bond.Denominator);
    }

    private static int PendingOf(string answer)
    {
        var at = answer.IndexOf("\"pending\":", StringComparison.Ordinal) + 10;
        return int.Parse(answer.AsSpan(at, answer.IndexOf(',', at) - at), CultureInfo.InvariantCulture);
    }

    private static async Task<string> ReadAsync(NpgsqlCommand command)
    {
        List<string> lines = [];
        await using var reader = await command.ExecuteReaderAsync();
        while (await reader.ReadAsync())
        {
            lines.Add(reader.GetString(0));
        }

        return string.Join('\n', lines);
    }
}
