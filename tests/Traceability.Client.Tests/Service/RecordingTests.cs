using Traceability.Acceptance.Robustness;
using Traceability.Client.Outbox;
using Traceability.Contracts;
using Traceability.Contracts.Facts;
using Traceability.Testing;

namespace Traceability.Client.Tests.Service;

/// <summary>The client and the outbox against a real service.</summary>
public sealed class RecordingTests(ServiceFixture fixture) : IClassFixture<ServiceFixture>
{
    private const int Senders = 32;
    private static int next;

    private ServiceHost Host => fixture.Host;

    [Fact]
    public async Task Thirty_two_clients_that_send_one_fact_at_once_record_it_once()
    {
        var (works, unit) = await NewUnitAsync();
        var before = await Tables.CountAsync(Host.Database, "events.mt_events");
        var fact = Step(works, unit) with { FactId = FactIds.Next() };

        var outcomes = await Task.WhenAll(Enumerable.Range(0, Senders).Select(async _ =>
        {
            using var client = Client();
            return await client.RecordAsync(fact);
        }));

        var receipts = outcomes.Select(o => Assert.IsType<FactOutcome.Recorded>(o).Receipt).ToList();
        Assert.Single(receipts, r => !r.IsRepeat);
        Assert.Single(receipts.Select(r => (r.Version, r.RecordedAt)).Distinct());
        Assert.Equal(before + 1, await Tables.CountAsync(Host.Database, "events.mt_events"));
    }

    [Fact]
    public async Task An_id_that_was_used_for_another_fact_is_shown_as_refused()
    {
        var (works, unit) = await NewUnitAsync();
        using var client = Client();
        var fact = Step(works, unit) with { FactId = FactIds.Next() };
        Assert.IsType<FactOutcome.Recorded>(await client.RecordAsync(fact));
        await using var terminal = await TerminalWithOutbox.OpenAsync(Host.Address, Host.Key());
        await terminal.Outbox.EnqueueAsync(fact with { Note = "another" });
        terminal.Run(100);
        await terminal.DrainAsync();

        var refused = Assert.Single(await terminal.Outbox.ListAsync(OutboxState.Refused));
        Assert.Equal((ProblemCodes.FactIdReused, "/factId"), (refused.Problem!.Code, refused.Problem.Errors![0].Pointer));
        Assert.Equal(1, terminal.Outbox.View().Refused);
    }

    [Fact]
    public async Task A_refusal_comes_back_with_every_fault_of_the_line()
    {
        using var client = Client();
        var outcomes = await client.RecordJsonBatchAsync(
        [
            """{"factId":"not-an-id","type":"step-completed","occurredAt":"yesterday","unit":{"item":"LAMP"},"step":"WIRE","colour":"red"}"""u8.ToArray(),
        ]);

        var refused = Assert.IsType<FactOutcome.Refused>(outcomes.Single());
        Assert.Equal(ProblemCodes.FactMalformed, refused.Problem.Code);
        Assert.True(refused.Problem.Errors!.Count >= 4, string.Join(", ", refused.Problem.Errors.Select(e => e.Pointer)));
    }

    [Fact]
    public async Task Every_question_is_answered()
    {
        var (works, unit) = await NewUnitAsync();
        using var client = Client();
        var glue = new StepCompleted
        {
            OccurredAt = Time(works, 3),
            Station = LampWorks.Bench,
            Person = "P-1",
            Unit = unit,
            Step = "GLUE",
            Materials = [new() { Item = "ADH", Lots = ["L1"], Container = "T1" }],
        };
        var receipt = Assert.IsType<FactOutcome.Recorded>(await client.RecordAsync(glue)).Receipt;
        var lot = new LotRef { Item = "ADH", Lot = "L1" };

        var readiness = await client.AskReadinessAsync(unit, "GLUE", new() { Station = LampWorks.Bench, Person = "P-1" });
        Assert.Equal(["Vapour"], readiness.Cautions);
        Assert.Equal(receipt.FactId, (await client.GetFactAsync(receipt.FactId)).FactId);
        Assert.Equal(unit.Serial, (await client.GetUnitAsync(unit)).Unit.Serial);
        Assert.Contains((await client.GetUnitsAsync("LAMP", "in-process", 1000)).Units, u => u.Serial == unit.Serial);
        Assert.Contains((await client.GetBuildRecordAsync(unit)).Records, r => r.FactId == receipt.FactId);
        Assert.Contains((await client.GetScopeAsync(lot, new() { WithCleared = true })).Members, m => m.Serial == unit.Serial);
        Assert.Contains((await client.GetContainerScopeAsync(lot, "T1")).Members, m => m.Serial == unit.Serial);
        var pages = 0;
        await foreach (var page in client.GetWholeScopeAsync(lot, limit: 1))
        {
            pages += page.Members.Count;
        }

        Assert.Equal((await client.GetScopeAsync(lot)).Totals.Members, pages);
        var findings = await client.GetFindingsAsync(new() { Item = "LAMP", Serial = unit.Serial, From = Time(works, -10_000) });
        Assert.NotEmpty(findings.Findings);
        Assert.Equal(findings.Findings.Count, (await client.GetFindingCountsAsync(new() { Item = "LAMP", Serial = unit.Serial, From = Time(works, -10_000), To = Time(works, 20_000) })).Total);
        Assert.True((await client.GetOpenIntervalsAsync("LAMP")).Counts.Total > 0);
        Assert.NotNull((await client.GetIntervalViolationsAsync(Time(works, -10_000), Time(works, 10_000), "LAMP", 10)).Counts);
        var to = DateOnly.FromDateTime(Time(works, 2_000).UtcDateTime);
        Assert.True((await client.GetStepYieldsAsync(new() { Item = "LAMP", From = to.AddDays(-20), To = to, By = ["step", "day"] })).Total.Attempts > 0);
        Assert.Equal("LAMP", (await client.GetUnitYieldsAsync("LAMP", to.AddDays(-20), to, ["day"])).Item);
        Assert.Equal("LAMP", (await client.GetThroughputYieldAsync("LAMP", to.AddDays(-20), to)).Item);
        Assert.NotEmpty((await client.GetItemsAsync()).Entries);
        Assert.Equal(ItemKind.Product, (await client.GetItemAsync("LAMP")).Kind);
        Assert.NotEmpty((await client.GetRoutingAsync("LAMP")).Released);
        Assert.Equal("A", (await client.GetRoutingRevisionAsync("LAMP", "A")).Revision);
        Assert.NotEmpty((await client.GetLotsAsync("ADH")).Entries);
        Assert.Equal("T1", (await client.GetLotAsync(lot)).Containers.Single().Container);
        Assert.NotEmpty((await client.GetToolsAsync()).Entries);
        Assert.Equal("SD-1", (await client.GetToolAsync("SD-1")).Tool);
        Assert.NotEmpty((await client.GetPeopleAsync()).Entries);
        Assert.Equal("P-1", (await client.GetPersonAsync("P-1")).Person);
        Assert.Equal(LampWorks.Bench, (await client.GetStationAsync(LampWorks.Bench)).Station);
        Assert.Contains((await client.GetStationsAsync()).Entries, e => e.Station == LampWorks.Desk);
        Assert.Contains((await client.GetSitesAsync()).Entries, e => e.Site == "WORKS");
        Assert.NotEmpty((await client.GetDefectsAsync()).Entries);
        Assert.Equal("definition-unknown", (await Assert.ThrowsAsync<TraceabilityProblemException>(() => client.GetToolAsync("SD-99"))).Code);
    }

    [Fact]
    public async Task Master_data_can_be_tried_and_sent()
    {
        var root = new DirectoryInfo(AppContext.BaseDirectory);
        while (!File.Exists(Path.Combine(root.FullName, "Traceability.sln")))
        {
            root = root.Parent!;
        }

        var file = await File.ReadAllTextAsync(Path.Combine(root.FullName, "docs", "tutorial", "lamp.yaml"));
        using var client = Client();

        var tried = await client.SendMasterDataAsync(file, isYaml: true, dryRun: true);
        var sent = await client.SendMasterDataAsync(file, isYaml: true, dryRun: false);
        var again = await client.SendMasterDataAsync(file, isYaml: true, dryRun: false);

        Assert.True(tried is { IsDryRun: true, Facts: > 0 }, $"{tried}");
        Assert.Equal((tried.Facts, tried.Facts, 0), (sent.Facts, sent.Recorded, sent.Repeats));
        Assert.Equal((0, tried.Facts), (again.Recorded, again.Repeats));
        var wrong = await Assert.ThrowsAsync<TraceabilityProblemException>(() => client.SendMasterDataAsync("items:\n  - colour: red\n", isYaml: true, dryRun: true));
        Assert.Equal(ProblemCodes.MasterDataMalformed, wrong.Code);
        Assert.NotNull(wrong.Problem.Errors![0].Line);
    }

    [Theory]
    [InlineData(0)]
    [InlineData(3_600)]
    [InlineData(-86_400)]
    public async Task The_client_measures_how_far_its_clock_is_off(int aheadSeconds)
    {
        var clock = new TestClock { Ahead = TimeSpan.FromSeconds(aheadSeconds) };
        using var client = new TraceabilityClient(new() { Address = Host.Address, Key = Host.Key() }, clock);
        for (var i = 0; i < 5; i++)
        {
            await client.MeasureClockAsync();
            await Task.Delay(230);
        }

        var measured = client.ClockOffset!;
        Assert.InRange((measured.Offset.TotalSeconds + aheadSeconds), -measured.Uncertainty.TotalSeconds, measured.Uncertainty.TotalSeconds);
        Assert.True(measured.Uncertainty <= TimeSpan.FromSeconds(1.1), $"{measured}");
    }

    private static DateTimeOffset Time(LampWorks works, double minutes) => DateTimeOffset.Parse(works.Time(minutes), System.Globalization.CultureInfo.InvariantCulture);

    private static StepCompleted Step(LampWorks works, UnitRef unit) =>
        new() { OccurredAt = Time(works, 2), Station = LampWorks.Bench, Person = "P-1", Unit = unit, Step = "WIRE" };

    private TraceabilityClient Client() => new(new() { Address = Host.Address, Key = Host.Key() });

    private async Task<(LampWorks Works, UnitRef Unit)> NewUnitAsync()
    {
        var works = new LampWorks(77, LampWorks.DaysAgo(6));
        await Acceptance.Robustness.Terminal.PostAllAsync(Host.Admin, works.Definitions(), batch: 50);
        var unit = new UnitRef { Item = "LAMP", Serial = FormattableString.Invariant($"{Interlocked.Increment(ref next)}") };
        using var client = Client();
        Assert.IsType<FactOutcome.Recorded>(await client.RecordAsync(new UnitOpened { OccurredAt = Time(works, 0), Station = LampWorks.Bench, Person = "P-1", Unit = unit, Variant = "P" }));
        return (works, unit);
    }
}
