using CsCheck;
using Traceability.Domain.Cure;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.Routings;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Judging;

/// <summary>Minima that depend on temperature.</summary>
public sealed class CureTests
{
    private static readonly UnitKey Lamp = Some.Unit("LAMP", "1");

    private static CureCondition Condition(string? place = null, CureState state = CureState.Full) =>
        new(Some.Code("GLUE"), state, TimeSpan.FromMinutes(90), TimeSpan.FromMinutes(30), place is null ? null : StationCode.Parse(place));

    // Invented: 60 min to full cure at 15 °C, 20 min at 25 °C; a sixth of that to handling.
    private static UnitStory Given(CureCondition? condition = null, string to = "LOAD.started", double? max = null) => new UnitStory(Lamp)
        .Routing(new RoutingBuilder("LAMP").Step("BOND", s => s.Material("GLUE", "ADH-1")).Step("LOAD")
            .Interval("CURE", "BOND.completed", to, maxMinutes: max, temperature: condition ?? Condition()))
        .Curing("ADH-1", (15, 10, 60), (25, 3.33, 20))
        .Lot("ADH-1", "L1")
        .Open();

    private static UnitStory Bonded(CureCondition? condition = null, string to = "LOAD.started", double? max = null, ClockReading? clock = null) =>
        Given(condition, to, max).Done("BOND", 0, s => s.Used("ADH-1", "L1").Clock(clock ?? Some.RightClock));

    private static UnitStory Loaded(UnitStory story, double at) => story.Done("LOAD", at + 10, s => s.Started(Some.At(at)));

    private static (double At, decimal Celsius)[] Every20(decimal celsius, int until = 120) => [.. Enumerable.Range(0, (until / 20) + 1).Select(i => (20.0 * i, celsius))];

    private static ReadinessAnswer Ask(UnitStory story, double at) =>
        Readiness.Ask(story.ProductUnit, story.References, new(Some.Step("LOAD"), Some.Station, Some.Person, [], [], [], Some.At(at)));

    [Theory]
    [InlineData(15, 59.99, "interval-too-short CURE")]
    [InlineData(15, 60, null)]
    [InlineData(25, 19.99, "interval-too-short CURE")]
    [InlineData(25, 20, null)]
    [InlineData(14.9, 110, "interval-too-short CURE")]
    [InlineData(60, 19.99, "interval-too-short CURE")]
    [InlineData(60, 20, null)]
    public void The_minimum_is_met_when_the_dose_is_1(double celsius, double loadedAt, string? finding) =>
        Loaded(Bonded().Read("ST-1", Every20((decimal)celsius)), loadedAt).ShouldFind(finding is null ? [] : [finding]);

    [Fact]
    public void A_finding_carries_the_dose_as_its_evidence()
    {
        var finding = Loaded(Bonded().Read("ST-1", (0, 15), (30, 15), (60, 15)), 45).ShouldFind("interval-too-short CURE").Findings[0];
        Assert.Equal("0.75", finding.Evidence["cure-dose"]);
        Assert.Equal("0.75", finding.Evidence["cure-dose-at-most"]);
        Assert.Equal(("full cure of ADH-1", "ST-1", "3", "15 Cel"), (finding.Evidence["cure-to"], finding.Evidence["cure-place"], finding.Evidence["cure-readings"], finding.Evidence["cure-coldest"]));
        Assert.Equal("dose 1", finding.Evidence["minimum"]);
        Assert.Contains("The readings at ST-1 show a dose of 0.75 to full cure of ADH-1.", finding.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void A_dose_just_short_of_1_is_not_shown_as_1() =>
        Assert.Equal("0.9999", Loaded(Bonded().Read("ST-1", Every20(15)), 59.9999).ShouldFind("interval-too-short CURE").Findings[0].Evidence["cure-dose"]);

    [Fact]
    public void Handling_has_a_time_of_its_own()
    {
        Loaded(Bonded(Condition(state: CureState.Handling)).Read("ST-1", Every20(15)), 10).ShouldFind();
        Loaded(Bonded(Condition(state: CureState.Handling)).Read("ST-1", Every20(15)), 9.9).ShouldFind("interval-too-short CURE");
    }

    [Fact]
    public void Without_readings_the_fallback_holds_and_says_so()
    {
        Loaded(Bonded(), 90).ShouldFind();
        var finding = Loaded(Bonded(), 89).ShouldFind("interval-too-short CURE").Findings[0];
        Assert.Contains("The fixed minimum of 1 h 30 min is taken, since no temperature is recorded at ST-1.", finding.Message, StringComparison.Ordinal);
        Assert.Equal("no temperature is recorded at ST-1", finding.Evidence["cure-fallback"]);
        Assert.Equal("1 h 30 min", finding.Evidence["minimum"]);
    }

    [Fact]
    public void Without_a_table_a_material_or_a_station_the_fallback_holds()
    {
        string Because(UnitStory story) => Loaded(story.Read("ST-1", Every20(25)), 89).ShouldFind("interval-too-short CURE").Findings[0].Evidence["cure-fallback"];
        Assert.Equal("no table of times to full cure is known of ADH-1", Because(Bonded().Know(new Domain.Items.ItemDefined(Some.Item("ADH-1"), Domain.Items.ItemKind.Consumable, "new", [], null) { OccurredAt = Some.At(-1) })));
        Assert.Equal("the record names no station", Because(Given().Done("BOND", 0, s => s.Used("ADH-1", "L1").AtStation(null))));
        var nothing = Loaded(Given().Done("BOND", 0).Read("ST-1", Every20(25)), 89).Judgement;
        Assert.Equal("no GLUE is recorded", nothing.Only("interval-too-short").Evidence["cure-fallback"]);
    }

    [Fact]
    public void A_gap_earns_nothing_but_what_it_may_have_held_is_not_called_too_short()
    {
        // 20 min at 15 °C, nothing for 40 min, 20 min at 15 °C: a third for each of the known parts.
        var story = Loaded(Bonded().Read("ST-1", (0, 15), (20, 15), (60, 15), (80, 15), (100, 15)), 80);
        var finding = story.ShouldFind("interval-undetermined CURE").Findings[0];
        Assert.Equal(("0.6666", "2.6666", "PT40M"), (finding.Evidence["cure-dose"], finding.Evidence["cure-dose-at-most"], finding.Evidence["cure-not-covered"]));
        Assert.True(story.Judgement.Steps[1].Passed);
        Loaded(Bonded().Read("ST-1", (0, 15), (5, 15), (36, 5), (37, 5)), 37).ShouldFind("interval-undetermined CURE");
        Loaded(Bonded().Read("ST-1", (0, 15), (5, 15), (25, 5), (30, 5)), 30).ShouldFind("interval-too-short CURE");
    }

    [Fact]
    public void The_uncertainty_of_the_clocks_widens_the_verdict()
    {
        var off = new ClockReading(TimeSpan.Zero, TimeSpan.FromMinutes(1), Doubtful: false);
        UnitStory At(double minutes) => Loaded(Bonded(clock: off).Read("ST-1", Every20(15)).Read("ST-1", (-10, 15)), minutes);
        At(58.9).ShouldFind("interval-too-short CURE");
        At(60).ShouldFind("interval-undetermined CURE");
        At(61).ShouldFind();
    }

    [Fact]
    public void The_maximum_still_holds() =>
        Loaded(Bonded(max: 100).Read("ST-1", Every20(15)), 101).ShouldFind("interval-too-long CURE");

    [Fact]
    public void The_readings_of_another_place_do_not_count_unless_the_rule_names_it()
    {
        Loaded(Bonded().Read("OVEN-1", Every20(25)), 20).ShouldFind("interval-too-short CURE");
        Loaded(Bonded(Condition("OVEN-1")).Read("OVEN-1", Every20(25)).Read("ST-1", Every20(5)), 20).ShouldFind();
    }

    [Fact]
    public void A_redone_bond_cures_anew() =>
        Loaded(Bonded().Done("BOND", 20, s => s.Used("ADH-1", "L1").Rework()).Read("ST-1", Every20(25)), 30).ShouldFind("interval-too-short CURE");

    [Fact]
    public void A_corrected_reading_counts_and_a_void_one_does_not()
    {
        var warm = Loaded(Bonded().Read("ST-1", (0, 25), (20, 25), (40, 25)), 20);
        warm.ShouldFind();
        var middle = warm.Streams["temperature/ST-1/2026-03-02"][1].Id;
        warm.KnowIn("temperature/ST-1/2026-03-02", new RecordCorrected(middle, Some.Temperature("ST-1", 20, 5), "misread", Some.Quality) { OccurredAt = Some.At(200) });
        warm.ShouldFind("interval-too-short CURE");
        warm.KnowIn("temperature/ST-1/2026-03-02", new RecordVoided(middle, "another oven", Some.Quality) { OccurredAt = Some.At(300) });
        warm.ShouldFind("interval-undetermined CURE");
    }

    [Fact]
    public void A_night_over_midnight_is_one_cure()
    {
        var readings = Enumerable.Range(0, 60).Select(i => (690 + (i * 2.0), 15m)).ToArray();
        var story = Given().Done("BOND", 700, s => s.Used("ADH-1", "L1")).Read("ST-1", readings);
        Loaded(story, 759.9).ShouldFind("interval-too-short CURE");
        var later = Given().Done("BOND", 700, s => s.Used("ADH-1", "L1")).Read("ST-1", readings);
        Loaded(later, 760).ShouldFind();
    }

    [Fact]
    public void An_open_cure_is_ready_at_a_time_that_says_what_it_assumes_and_a_colder_night_moves_it()
    {
        var story = Bonded().Read("ST-1", (0, 25), (10, 25));
        var warm = Assert.Single(story.ShouldFind().OpenIntervals);
        Assert.Equal(20, (warm.ReadyAt!.Value - Some.Noon).TotalMinutes, 1e-4);
        Assert.Equal("If it stays at the last reading, 25 Cel at 2026-03-02T12:10:00Z (ST-1).", warm.Assumption);
        Assert.Equal(Some.At(40), warm.AssumedUntil);

        var colder = Assert.Single(story.Read("ST-1", (11, 15)).ShouldFind().OpenIntervals);
        Assert.True(colder.ReadyAt > warm.ReadyAt!.Value.AddMinutes(15));

        var cold = Assert.Single(story.Read("ST-1", (12, 4)).ShouldFind().OpenIntervals);
        Assert.Null(cold.ReadyAt);
        Assert.Equal("At the last reading, 4 Cel at 2026-03-02T12:12:00Z (ST-1), it does not cure.", cold.Assumption);
        Assert.Equal(OpenIntervalState.NotReady, OpenIntervalStates.At(cold.ReadyAt, null, TimeSpan.Zero, Some.At(50_000), isAssumed: true, cold.AssumedUntil));
    }

    [Fact]
    public void An_open_cure_that_readings_show_to_be_done_assumes_nothing()
    {
        var open = Assert.Single(Bonded().Read("ST-1", Every20(25)).ShouldFind().OpenIntervals);
        Assert.Equal(20, (open.ReadyAt!.Value - Some.Noon).TotalMinutes, 1e-4);
        Assert.Null(open.Assumption);
        Assert.Equal("The fixed minimum of 1 h 30 min is taken, since no temperature is recorded at ST-1.", Assert.Single(Bonded().ShouldFind().OpenIntervals).Assumption);
    }

    [Fact]
    public void A_forecast_that_no_reading_bears_out_is_undetermined_and_not_ready()
    {
        var open = Assert.Single(Bonded().Read("ST-1", (0, 15)).ShouldFind().OpenIntervals);
        Assert.Equal(60, (open.ReadyAt!.Value - Some.Noon).TotalMinutes, 1e-4);
        OpenIntervalState At(double minutes) => OpenIntervalStates.At(open.ReadyAt, open.OverdueAt, open.Uncertainty, Some.At(minutes), open.Assumption is not null, open.AssumedUntil);
        Assert.Equal((OpenIntervalState.NotReady, OpenIntervalState.UndeterminedAtMinimum), (At(59), At(61)));
    }

    [Fact]
    public void Asked_first_it_says_wait_until_with_the_assumption()
    {
        var answer = Ask(Bonded().Read("ST-1", (0, 25), (5, 25)), 10);
        Assert.Equal(ReadinessVerdict.Wait, answer.Verdict);
        Assert.Equal(20, (answer.WaitUntil!.Value - Some.Noon).TotalMinutes, 1e-4);
        Assert.Equal("CURE: If it stays at the last reading, 25 Cel at 2026-03-02T12:05:00Z (ST-1).", Assert.Single(answer.Assumptions));
        Assert.Contains("show a dose of 0.5 to full cure of ADH-1", Assert.Single(answer.Reasons).Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Asked_when_the_dose_is_reached_it_says_go()
    {
        Assert.Equal(ReadinessVerdict.Go, Ask(Bonded().Read("ST-1", (0, 25), (20, 25)), 20.01).Verdict);
        Assert.Empty(Ask(Bonded().Read("ST-1", (0, 25), (25, 25)), 26).Assumptions);
    }

    [Fact]
    public void Asked_too_long_after_the_last_reading_or_in_the_cold_it_says_no()
    {
        var stale = Ask(Bonded().Read("ST-1", (0, 15)), 70);
        Assert.Equal((ReadinessVerdict.No, "interval-undetermined"), (stale.Verdict, Assert.Single(stale.Reasons).Kind));
        var cold = Ask(Bonded().Read("ST-1", (0, 5), (20, 5)), 25);
        Assert.Equal((ReadinessVerdict.No, "interval-too-short"), (cold.Verdict, Assert.Single(cold.Reasons).Kind));
        Assert.Contains("it does not cure", Assert.Single(cold.Assumptions), StringComparison.Ordinal);
    }

    [Fact]
    public void A_minimum_that_ends_at_the_completion_gives_the_earliest_one()
    {
        var answer = Ask(Bonded(to: "LOAD.completed").Read("ST-1", (0, 25)), 5);
        Assert.Equal(ReadinessVerdict.Go, answer.Verdict);
        Assert.Equal(20, (answer.EarliestCompletion!.Value - Some.Noon).TotalMinutes, 1e-4);
        Assert.Single(answer.Assumptions);
    }

    [Fact]
    public void A_stream_of_temperatures_that_cannot_be_read_makes_the_judgement_uncertain()
    {
        var story = Loaded(Bonded().Read("ST-1", Every20(25)).KnowIn("temperature/ST-1/2026-03-02", new UnreadableFact("temperature_recorded", "unknown") { OccurredAt = Some.Noon }), 30);
        Assert.Equal("temperature/ST-1/2026-03-02", Assert.Single(story.ShouldFind("reference-unreadable temperature/ST-1/2026-03-02").Unreadable));
    }

    [Fact]
    public void What_is_looked_at_is_named_before_and_a_reading_outside_of_the_windows_changes_nothing() =>
        Gen.Select(Gen.Int[-3_000, 60_000], Gen.Int[0, 3_000], Gen.Int[-6_000, 60_000], Gen.Bool).Sample(
            (bondedAt, after, readAt, isLoaded) =>
            {
                var story = Given().Done("BOND", bondedAt, s => s.Used("ADH-1", "L1")).Read("ST-1", (bondedAt, 20), (bondedAt + 25, 20));
                story = isLoaded ? Loaded(story, bondedAt + after) : story;
                var before = story.Judgement;
                var names = new HashSet<string>(StringComparer.Ordinal);
                Dependencies.AddTemperatures(names, story.References.FindRouting(Lamp.Item), story.References, story.Facts.Select(f => f.Fact));
                Assert.All(before.CureWindows, w => Assert.All(
                    Enumerable.Range(0, (int)(w.To - w.From).TotalDays + 2).Select(d => DateOnly.FromDateTime(w.From.UtcDateTime).AddDays(d)).Where(d => d <= DateOnly.FromDateTime(w.To.UtcDateTime)),
                    d => Assert.Contains(StreamNames.OfTemperature(w.Place, d), names)));

                var isOutside = before.CureWindows.All(w => Some.At(readAt) < w.From || Some.At(readAt) > w.To);
                var afterwards = story.Read("ST-1", (readAt, 16)).Judgement;
                if (isOutside)
                {
                    Assert.Equal(Canonical.Text(before), Canonical.Text(afterwards));
                }
            },
            iter: 2_000);
}
