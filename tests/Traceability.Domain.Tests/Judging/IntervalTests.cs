using CsCheck;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Judging;

public sealed class IntervalTests
{
    private static readonly UnitKey Lamp = Some.Unit("LAMP", "1");

    private static ClockReading Within(double seconds) => new(TimeSpan.Zero, TimeSpan.FromSeconds(seconds), Doubtful: false);

    private static UnitStory Given(string from, string to, double? min = null, double? max = null) => new UnitStory(Lamp)
        .Routing(new RoutingBuilder("LAMP").Step("BOND").Step("LOAD").Interval("CURE", from, to, min, max))
        .Open();

    // Common practice, no source: a pressure-sensitive bond is clamped 5 to 10 minutes before it is loaded.
    [Theory]
    [InlineData(4.99, "interval-too-short CURE")]
    [InlineData(5, null)]
    [InlineData(10, null)]
    [InlineData(10.01, "interval-too-long CURE")]
    public void A_bond_clamped_5_to_10_minutes_before_it_is_loaded(double loadedAt, string? finding) =>
        Given("BOND.mark:CLAMPED", "LOAD.started", 5, 10)
            .Done("BOND", 1, s => s.Mark("CLAMPED", Some.At(0)))
            .Done("LOAD", 30, s => s.Started(Some.At(loadedAt)))
            .ShouldFind(finding is null ? [] : [finding]);

    // Common practice, no source: an aluminium part is heated for 15 minutes at 450 °F and left for 10 to 20 minutes after fitting.
    [Theory]
    [InlineData(14, 60, "interval-too-short SOAK")]
    [InlineData(15, 60, null)]
    [InlineData(15, 39.9, "interval-too-short COOL")]
    [InlineData(15, 40, null)]
    public void A_part_soaked_in_the_oven_and_left_to_cool(double outAt, double handledAt, string? finding) =>
        new UnitStory(Lamp).Routing(new RoutingBuilder("LAMP")
                .Step("FIT", s => s.Measure("OVEN", "[degF]", 445, 455)).Step("HANDLE")
                .Interval("SOAK", "FIT.mark:OVEN-IN", "FIT.mark:OVEN-OUT", 15)
                .Interval("COOL", "FIT.completed", "HANDLE.started", 10))
            .Open()
            .Done("FIT", 30, s => s.Started(Some.At(-1)).Mark("OVEN-IN", Some.At(0)).Mark("OVEN-OUT", Some.At(outAt)).Measured("OVEN", 232.22m, "Cel"))
            .Done("HANDLE", 90, s => s.Started(Some.At(handledAt)))
            .ShouldFind(finding is null ? [] : [finding]);

    [Fact]
    public void The_uncertainty_of_both_ends_adds_up()
    {
        UnitStory At(double minutes) => Given("BOND.completed", "LOAD.completed", 5)
            .Done("BOND", 0, s => s.Clock(Within(30))).Done("LOAD", minutes, s => s.Clock(Within(30)));
        At(3.99).ShouldFind("interval-too-short CURE");
        At(4).ShouldFind("interval-undetermined CURE");
        At(5.99).ShouldFind("interval-undetermined CURE");
        At(6).ShouldFind();
    }

    [Fact]
    public void An_undetermined_interval_is_a_finding_and_no_defect() =>
        Assert.True(Given("BOND.completed", "LOAD.completed", 5).Done("BOND", 0, s => s.Clock(Within(30))).Done("LOAD", 5).ShouldFind("interval-undetermined CURE").Steps[1].Passed);

    [Fact]
    public void A_broken_interval_is_a_defect_of_the_step_that_ends_it()
    {
        var judgement = Given("BOND.completed", "LOAD.completed", 5).Done("BOND", 0).Done("LOAD", 2).ShouldFind("interval-too-short CURE");
        Assert.Equal((true, false), (judgement.Steps[0].Passed, judgement.Steps[1].Passed));
        Assert.Equal("PT2M", judgement.Findings[0].Evidence["elapsed"]);
    }

    [Fact]
    public void Redoing_the_start_restarts_the_clock() =>
        Given("BOND.completed", "LOAD.completed", 5).Done("BOND", 0).Done("BOND", 8, s => s.Rework()).Done("LOAD", 10).ShouldFind("interval-too-short CURE");

    [Fact]
    public void A_void_redo_does_not_restart_the_clock()
    {
        var story = Given("BOND.completed", "LOAD.completed", 5).Done("BOND", 0).Done("BOND", 8);
        story.Void(story.LastId).Done("LOAD", 10).ShouldFind();
    }

    [Fact]
    public void A_redo_after_the_end_changes_nothing_before() =>
        Given("BOND.completed", "LOAD.completed", 5).Done("BOND", 0).Done("LOAD", 10).Done("BOND", 12).ShouldFind();

    [Fact]
    public void A_redo_whose_mark_is_missing_leaves_no_start() =>
        Given("BOND.mark:CLAMPED", "LOAD.completed", 5).Done("BOND", 0, s => s.Mark("CLAMPED", Some.At(0))).Done("BOND", 8).Done("LOAD", 10)
            .ShouldFind("interval-start-not-recorded CURE");

    [Fact]
    public void A_start_just_after_the_end_within_the_uncertainty_counts() =>
        Given("BOND.completed", "LOAD.completed", max: 5).Done("BOND", 0.5, s => s.Clock(Within(20))).Done("LOAD", 0, s => s.Clock(Within(20)))
            .ShouldFind();

    [Fact]
    public void A_start_later_than_that_is_not_the_start() =>
        Given("BOND.completed", "LOAD.completed", max: 5).Done("BOND", 0.75, s => s.Clock(Within(20))).Done("LOAD", 0, s => s.Clock(Within(20)))
            .ShouldFind("interval-start-not-recorded CURE");

    [Fact]
    public void A_step_that_is_started_and_not_completed_is_judged_already()
    {
        var judgement = Given("BOND.completed", "LOAD.started", 5).Done("BOND", 0).Started("LOAD", 3).ShouldFind("interval-too-short CURE");
        Assert.Equal(0, judgement.Findings[0].Attempt);
        Assert.Empty(judgement.OpenIntervals);
    }

    [Fact]
    public void An_unknown_start_of_the_step_that_ends_it_leaves_only_what_is_certain()
    {
        UnitStory Loaded(double at) => Given("BOND.completed", "LOAD.started", 5).Done("BOND", 0).Done("LOAD", at, s => s.Started(null));
        Loaded(4).ShouldFind("interval-too-short CURE");
        Loaded(60).ShouldFind("interval-undetermined CURE");
        Given("BOND.completed", "LOAD.started", max: 10).Done("BOND", 0).Done("LOAD", 10, s => s.Started(null)).ShouldFind();
    }

    [Fact]
    public void Pot_life_runs_from_the_opening_of_the_container_that_was_used()
    {
        UnitStory Bonded(string container) => new UnitStory(Lamp)
            .Routing(new RoutingBuilder("LAMP").Step("BOND", s => s.Material("GLUE", "ADH-1")).Interval("POT", "BOND.opened:GLUE", "BOND.completed", maxMinutes: 30))
            .Lot("ADH-1", "L1").Opened("ADH-1", "L1", "T1", -31).Opened("ADH-1", "L1", "T2", -30).Open()
            .Done("BOND", 0, s => s.Used("ADH-1", "L1", container));
        Bonded("T1").ShouldFind("interval-too-long POT");
        Bonded("T2").ShouldFind();
        Bonded("T3").ShouldFind("interval-start-not-recorded POT");
    }

    [Fact]
    public void An_interval_that_has_not_ended_is_open_with_its_times()
    {
        var open = Assert.Single(Given("BOND.completed", "LOAD.started", 5, 60).Done("BOND", 0).ShouldFind().OpenIntervals);
        Assert.Equal((Some.At(0), Some.At(5), Some.At(60)), (open.StartedAt, open.ReadyAt, open.OverdueAt));
    }

    [Fact]
    public void An_interval_is_not_open_once_ended_or_scrapped_and_opens_again_with_a_redo()
    {
        UnitStory Bonded() => Given("BOND.completed", "LOAD.completed", 5).Done("BOND", 0);
        Assert.Empty(Bonded().Done("LOAD", 6).Judgement.OpenIntervals);
        Assert.Empty(Bonded().Tell(new UnitScrapped(Lamp, "cracked") { OccurredAt = Some.At(1) }).Judgement.OpenIntervals);
        Assert.Equal(Some.At(8), Assert.Single(Bonded().Done("LOAD", 6).Done("BOND", 8).Judgement.OpenIntervals).StartedAt);
    }

    [Fact]
    public void An_interval_to_a_step_that_the_unit_does_not_have_is_not_open()
    {
        var routing = new RoutingBuilder("LAMP").Step("BOND").Step("LOAD", s => s.AppliesTo(StepBuilder.Variants("C"))).Interval("CURE", "BOND.completed", "LOAD.started", 5);
        Assert.Empty(new UnitStory(Lamp).Routing(routing).Open("P").Done("BOND", 0).ShouldFind().OpenIntervals);
    }

    [Fact]
    public void The_verdict_flips_exactly_at_the_limits()
    {
        // Half of the cases sit on or beside a limit, the uncertainty taken in: uniform times would almost never meet one.
        var cases =
            from minimum in Gen.Int[0, 3_600]
            from width in Gen.Int[0, 3_600]
            from uncertainty in Gen.OneOf(Gen.Const(0), Gen.Int[0, 120])
            from limit in Gen.OneOf(Gen.Const(minimum), Gen.Const(minimum + width))
            from side in Gen.Int[-1, 1]
            from beside in Gen.Int[-1, 1]
            from elapsed in Gen.OneOf(Gen.Const(limit + (side * uncertainty) + beside), Gen.Int[-100, 8_000])
            select (minimum, maximum: minimum + width, uncertainty, elapsed);

        cases.Sample(
            c =>
            {
                var verdict = IntervalVerdicts.Judge(
                    TimeSpan.FromSeconds(c.elapsed), TimeSpan.FromSeconds(c.uncertainty), TimeSpan.FromSeconds(c.minimum), TimeSpan.FromSeconds(c.maximum));

                // Said by its meaning, not by the formula: every true elapsed second that the clocks allow is tried.
                var possible = Enumerable.Range(c.elapsed - c.uncertainty, (2 * c.uncertainty) + 1);
                var expected = possible.All(s => s < c.minimum) ? IntervalVerdict.TooShort
                    : possible.All(s => s > c.maximum) ? IntervalVerdict.TooLong
                    : possible.All(s => s >= c.minimum && s <= c.maximum) ? IntervalVerdict.Kept
                    : IntervalVerdict.Undetermined;
                Assert.Equal(expected, verdict);
            },
            iter: 20_000);
    }

    [Fact]
    public void Extreme_times_do_not_overflow()
    {
        Assert.Equal(IntervalVerdict.Undetermined, IntervalVerdicts.Judge(TimeSpan.MaxValue, TimeSpan.MaxValue, TimeSpan.FromMinutes(1), null));
        Assert.Equal(IntervalVerdict.Undetermined, IntervalVerdicts.Judge(TimeSpan.FromDays(-1), TimeSpan.MaxValue, TimeSpan.FromMinutes(1), null));
    }
}
