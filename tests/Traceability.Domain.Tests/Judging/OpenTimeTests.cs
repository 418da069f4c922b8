using CsCheck;
using Traceability.Domain.Cure;
using Traceability.Domain.Facts;
using Traceability.Domain.Items;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.Routings;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Judging;

/// <summary>The open time of an adhesive, from applied to joined, by temperature.</summary>
public sealed class OpenTimeTests
{
    private const double Zero = 273.15;
    private static readonly UnitKey Lamp = Some.Unit("LAMP", "1");

    // Invented: it may lie open for 40 min at 15 °C and for 20 min at 25 °C; 30 min where there are no readings.
    private static LifeTable Table(string? place = null, params (decimal Celsius, double Minutes)[] rows) => new(
        [.. (rows.Length == 0 ? [(15, 40), (25, 20)] : rows).Select(r => new LifeRow(new(r.Celsius, "Cel"), TimeSpan.FromMinutes(r.Minutes)))],
        TimeSpan.FromMinutes(30),
        place is null ? null : StationCode.Parse(place));

    private static ItemDefined Glue(string item = "ADH-1", LifeTable? table = null) =>
        new(Some.Item(item), ItemKind.Consumable, "Adhesive", [], null) { OccurredAt = Some.At(-9_000), OpenTimeByTemperature = table };

    private static UnitStory Given(LifeTable? table = null, string from = "APPLY.completed", string to = "JOIN.started", double? min = null) => new UnitStory(Lamp)
        .Routing(new RoutingBuilder("LAMP").Step("APPLY", s => s.Material("GLUE", "ADH-1", alternatives: ["ADH-2"])).Step("JOIN")
            .Interval("OPEN", from, to, min, maxMinutes: 30, openTimeOf: "GLUE"))
        .Know(Glue(table: table ?? Table())).Item("ADH-2")
        .Lot("ADH-1", "L1").Lot("ADH-2", "L2")
        .Open();

    private static UnitStory Applied(LifeTable? table = null, ClockReading? clock = null, string to = "JOIN.started", double? min = null) =>
        Given(table, to: to, min: min).Done("APPLY", 0, s => s.Used("ADH-1", "L1").Clock(clock ?? Some.RightClock));

    private static UnitStory Joined(UnitStory story, double at) => story.Done("JOIN", at + 5, s => s.Started(Some.At(at)));

    private static (double At, decimal Celsius)[] Every10(decimal celsius, double from = 0, double until = 120) =>
        [.. Enumerable.Range(0, (int)((until - from) / 10) + 1).Select(i => (from + (10.0 * i), celsius))];

    private static ReadinessAnswer Ask(UnitStory story, double at) =>
        Readiness.Ask(story.ProductUnit, story.References, new(Some.Step("JOIN"), Some.Station, Some.Person, [], [], [], Some.At(at)));

    // Closed form: at the constant temperature of a row it is used up after the time of that row.
    [Theory]
    [InlineData(15, 40, null)]
    [InlineData(15, 40.01, "interval-too-long OPEN")]
    [InlineData(25, 20, null)]
    [InlineData(25, 20.01, "interval-too-long OPEN")]
    public void At_a_constant_temperature_the_maximum_is_the_time_of_the_row(double celsius, double joinedAt, string? finding) =>
        Joined(Applied().Read("ST-1", Every10((decimal)celsius)), joinedAt).ShouldFind(finding is null ? [] : [finding]);

    // The Arrhenius equation in its two-point form (IUPAC, Compendium of Chemical Terminology), written out anew.
    [Fact]
    public void Between_two_rows_the_logarithm_of_the_time_is_linear_in_the_reciprocal_temperature()
    {
        var time = 40 * Math.Pow(20.0 / 40, ((1 / (20 + Zero)) - (1 / (15 + Zero))) / ((1 / (25 + Zero)) - (1 / (15 + Zero))));
        Assert.InRange(time, 28, 28.5);
        Joined(Applied().Read("ST-1", Every10(20)), time - 0.001).ShouldFind();
        Joined(Applied().Read("ST-1", Every10(20)), time + 0.001).ShouldFind("interval-too-long OPEN");
    }

    // Closed form of a step: 20 min at 15 °C use up a half, so 10 min at 25 °C are left. The step takes a millisecond.
    [Theory]
    [InlineData(29.99, null)]
    [InlineData(30.01, "interval-too-long OPEN")]
    public void After_a_step_in_the_temperature_the_rest_is_used_up_at_the_other_rate(double joinedAt, string? finding) =>
        Joined(Applied().Read("ST-1", (0, 15), (10, 15), (20, 15), (20 + (0.001 / 60), 25), (30, 25), (40, 25)), joinedAt).ShouldFind(finding is null ? [] : [finding]);

    [Fact]
    public void A_finding_carries_what_was_used_up_as_its_evidence()
    {
        var finding = Joined(Applied().Read("ST-1", Every10(25)), 25).ShouldFind("interval-too-long OPEN").Findings[0];
        Assert.Equal(("1.25", "1.25", "ST-1", "open time by temperature"), (finding.Evidence["life-used"], finding.Evidence["life-used-at-most"], finding.Evidence["life-place"], finding.Evidence["maximum"]));
        Assert.Contains("The readings at ST-1 show that 1.25 to 1.25 of it was used up.", finding.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Without_readings_a_table_a_material_or_a_station_the_fixed_maximum_holds_and_says_so()
    {
        string Because(UnitStory story)
        {
            var finding = Joined(story, 30.01).ShouldFind("interval-too-long OPEN").Findings[0];
            Assert.Contains($"The fixed time is taken, since {finding.Evidence["life-fallback"]}.", finding.Message, StringComparison.Ordinal);
            Assert.Equal("PT30M", finding.Evidence["maximum"]);
            return finding.Evidence["life-fallback"];
        }

        Joined(Applied(), 30).ShouldFind();
        Assert.Equal("no temperature is recorded at ST-1", Because(Applied()));
        Assert.Equal("no table of open times is known of ADH-2", Because(Given().Done("APPLY", 0, s => s.Used("ADH-2", "L2")).Read("ST-1", Every10(25))));
        Assert.Equal("the record names no station", Because(Given().Done("APPLY", 0, s => s.Used("ADH-1", "L1").AtStation(null)).Read("ST-1", Every10(25))));
        Assert.Equal("no GLUE is recorded", Joined(Given().Done("APPLY", 0).Read("ST-1", Every10(25)), 31).Judgement.Only("interval-too-long").Evidence["life-fallback"]);
    }

    [Fact]
    public void What_no_reading_tells_is_never_in_favour_of_a_longer_time()
    {
        // A quarter of an hour at 15 °C, then nothing: after the half hour that the last reading holds it may have been as hot as at the hottest row.
        Joined(Applied().Read("ST-1", (0, 15), (15, 15)), 39).ShouldFind();
        Joined(Applied(Table(null, (15, 100), (25, 20))).Read("ST-1", (0, 15), (15, 15)), 70).ShouldFind("interval-undetermined OPEN");
        var finding = Joined(Applied().Read("ST-1", (0, 26), (10, 26), (20, 26)), 1).ShouldFind("interval-undetermined OPEN").Findings[0];
        Assert.Contains("it was hotter than the table tells", finding.Message, StringComparison.Ordinal);
        Joined(Applied().Read("ST-1", Every10(5)), 40.01).ShouldFind("interval-undetermined OPEN");
        Joined(Applied().Read("ST-1", Every10(5)), 39.9).ShouldFind();
    }

    [Fact]
    public void The_uncertainty_of_the_clocks_widens_the_verdict()
    {
        var off = new ClockReading(TimeSpan.Zero, TimeSpan.FromMinutes(1), Doubtful: false);
        UnitStory At(double minutes) => Joined(Applied(clock: off).Read("ST-1", Every10(25, -10)), minutes);
        At(18.9).ShouldFind();
        At(20).ShouldFind("interval-undetermined OPEN");
        At(21.1).ShouldFind("interval-too-long OPEN");
    }

    [Fact]
    public void The_readings_of_another_place_do_not_count_unless_the_table_names_it()
    {
        Joined(Applied().Read("BENCH-2", Every10(15)), 35).ShouldFind("interval-too-long OPEN");
        Joined(Applied(Table("BENCH-2")).Read("BENCH-2", Every10(15)).Read("ST-1", Every10(25)), 35).ShouldFind();
    }

    [Fact]
    public void Applied_anew_the_time_begins_anew() =>
        Joined(Applied().Done("APPLY", 30, s => s.Used("ADH-1", "L1").Rework()).Read("ST-1", Every10(25)), 45).ShouldFind();

    [Fact]
    public void Of_several_that_were_applied_the_shortest_counts()
    {
        var story = Given().Know(Glue("ADH-2", Table(null, (15, 20), (25, 10)))).Done("APPLY", 0, s => s.Used("ADH-1", "L1").Used("ADH-2", "L2")).Read("ST-1", Every10(25));
        Assert.Equal("1.5", Joined(story, 15).Judgement.Only("interval-too-long").Evidence["life-used"]);
    }

    [Fact]
    public void A_minimum_beside_it_still_holds() =>
        Joined(Applied(min: 5).Read("ST-1", Every10(25)), 4).ShouldFind("interval-too-short OPEN");

    [Fact]
    public void A_corrected_late_or_void_reading_judges_anew()
    {
        const string Day = "temperature/ST-1/2026-03-02";
        var story = Joined(Applied().Read("ST-1", (0, 25), (15, 25), (30, 25)), 25);
        story.ShouldFind("interval-too-long OPEN");
        foreach (var reading in story.Streams[Day].Select((r, i) => (r.Id, At: i * 15.0)).ToArray())
        {
            story.KnowIn(Day, new RecordCorrected(reading.Id, Some.Temperature("ST-1", reading.At, 15), "misread", Some.Quality) { OccurredAt = Some.At(200) });
        }

        story.ShouldFind();
        story.KnowIn(Day, new RecordVoided(story.Streams[Day][1].Id, "another room", Some.Quality) { OccurredAt = Some.At(300) }).ShouldFind();
        story.Read("ST-1", (7, 25), (8, 25)).ShouldFind();
        story.Read("ST-1", (1, 25), (22, 25)).ShouldFind("interval-too-long OPEN");
    }

    [Fact]
    public void An_open_one_says_until_when_and_what_that_assumes_and_a_warmer_room_moves_it()
    {
        var story = Applied().Read("ST-1", (0, 15), (10, 15));
        var open = Assert.Single(story.ShouldFind().OpenIntervals);
        Assert.Equal((Some.At(40), "If it stays at the last reading, 15 Cel at 2026-03-02T12:10:00Z (ST-1).", Some.At(40)), (open.OverdueAt, open.Assumption, open.AssumedUntil));
        Assert.True(Assert.Single(story.Read("ST-1", (11, 25)).ShouldFind().OpenIntervals).OverdueAt < Some.At(27));
        var hot = Assert.Single(story.Read("ST-1", (12, 40)).ShouldFind().OpenIntervals);
        Assert.Null(hot.OverdueAt);
        Assert.Contains("it was hotter than its table tells", hot.Assumption, StringComparison.Ordinal);
        Assert.Equal(OpenIntervalState.UndeterminedAtMaximum, OpenIntervalStates.At(hot, Some.At(13)));
        var none = Assert.Single(Applied().ShouldFind().OpenIntervals);
        Assert.Equal((Some.At(30), "The fixed open time of 30 min is taken, since no temperature is recorded at ST-1."), (none.OverdueAt, none.Assumption));
    }

    // The state at a moment is the verdict on joining at that moment.
    [Fact]
    public void The_state_of_an_open_one_is_the_verdict_on_an_end_at_that_moment() => Gen.Select(
        Gen.Select(Gen.Double[-20, 90], Gen.Int[10, 27]).Array[0, 5], Gen.Int[0, 100], Gen.Bool).Sample(
        (readings, minutes, isSure) =>
        {
            var at = minutes + 0.37;

            // What is read later is not known at the moment.
            UnitStory Story() => Applied(clock: isSure ? Some.RightClock : new(TimeSpan.Zero, TimeSpan.FromMinutes(1), Doubtful: false)).Read("ST-1", [.. readings.Where(r => r.Item1 < at).Select(r => (Math.Round(r.Item1, 2), (decimal)r.Item2))]);
            var open = Assert.Single(Story().Judgement.OpenIntervals);
            var findings = Joined(Story(), at).Judgement.Findings.Where(f => f.Rule == "OPEN").Select(f => f.Kind).ToArray();
            var (early, late) = (OpenIntervalStates.At(open, Some.At(at).AddSeconds(-2)), OpenIntervalStates.At(open, Some.At(at).AddSeconds(2)));

            // Told to the second: where it changes within two seconds, either is right.
            if (early == late)
            {
                Assert.Equal(early switch { OpenIntervalState.Overdue => ["interval-too-long"], OpenIntervalState.UndeterminedAtMaximum => ["interval-undetermined"], _ => [] }, findings);
            }
        },
        iter: 300);

    [Fact]
    public void Asked_first_it_says_until_when_with_the_assumption()
    {
        var answer = Ask(Applied().Read("ST-1", (0, 25), (5, 25)), 10);
        Assert.Equal(ReadinessVerdict.Go, answer.Verdict);
        var deadline = Assert.Single(answer.Deadlines);
        Assert.Equal(("OPEN", MilestoneKind.Started, Some.At(0), Some.At(20)), (deadline.Rule.Value, deadline.EndsAt, deadline.StartedAt, deadline.Until!.Value));
        Assert.Equal("If it stays at the last reading, 25 Cel at 2026-03-02T12:05:00Z (ST-1).", deadline.Assumption);
        Assert.Equal($"OPEN: {deadline.Assumption}", Assert.Single(answer.Assumptions));

        var fixedTime = Assert.Single(Ask(Applied(), 10).Deadlines);
        Assert.Equal((Some.At(30), "The fixed open time of 30 min is taken, since no temperature is recorded at ST-1."), (fixedTime.Until!.Value, fixedTime.Assumption));
    }

    [Fact]
    public void Asked_too_late_it_says_no_and_where_nothing_tells_that_it_cannot_be_told()
    {
        var late = Ask(Applied().Read("ST-1", Every10(25)), 21);
        Assert.Equal((ReadinessVerdict.No, FindingKinds.IntervalTooLong), (late.Verdict, Assert.Single(late.Reasons).Kind));
        Assert.Contains("the maximum (open time by temperature) has passed. The readings at ST-1 show", late.Reasons[0].Message, StringComparison.Ordinal);
        var open = Ask(Applied(Table(null, (15, 100), (25, 20))).Read("ST-1", (0, 15), (15, 15)), 70);
        Assert.Equal((ReadinessVerdict.No, FindingKinds.IntervalUndetermined), (open.Verdict, Assert.Single(open.Reasons).Kind));
    }

    [Fact]
    public void What_is_looked_at_is_what_is_named_as_looked_at()
    {
        var window = Assert.Single(Joined(Applied(Table("BENCH-2")).Read("BENCH-2", Every10(15)), 20).Judgement.CureWindows);
        Assert.Equal((StationCode.Parse("BENCH-2"), Some.At(-30), Some.At(50)), (window.Place, window.From, window.To));
        var story = Applied(Table("BENCH-2"));
        Assert.Contains("temperature/BENCH-2/2026-03-02", Dependencies.Temperatures(null, story.References, story.ProductUnit, [])!);
    }
}
