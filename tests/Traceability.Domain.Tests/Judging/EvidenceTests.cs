using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Judging;

/// <summary>What a judgement tells of values, intervals and missing work, so that a suspect condition finds its units.</summary>
public sealed class EvidenceTests
{
    private static readonly UnitKey Lamp = Some.Unit("LAMP", "1");

    private static UnitStory Given => new UnitStory(Lamp)
        .Routing(new RoutingBuilder("LAMP")
            .Step("GLUE", s => s.AtStations("ST-1", "ST-2").Check("CLEAN").Measure("DEPTH", "mm", 2, 10, guardBand: 1))
            .Step("COVER", s => s.After("GLUE").Tool("DRIVER", "SCREWDRIVER").Measure("TORQUE", "N.m", 1.1m, 1.3m).Measure("GAP", "mm", isRequired: false))
            .Step("TEST", s => s.After("COVER"))
            .Interval("CURE", "GLUE.completed", "COVER.started", 8, 60))
        .Tool("SD-1", "SCREWDRIVER")
        .Open();

    private static UnitStory Glued(double at = 0, ClockReading? clock = null) =>
        Given.Done("GLUE", at, s => s.Checked("CLEAN").Measured("DEPTH", 5, "mm").Clock(clock ?? Some.RightClock));

    private static MeasuredValue Torque(UnitStory story) => Assert.Single(story.Judgement.Measurements, m => m.Characteristic == Some.Code("TORQUE"));

    private static IEnumerable<string> Gaps(UnitJudgement judgement) =>
        judgement.WorkGaps.Select(g => $"{g.Kind} {g.Reason} {g.Step} {g.Requirement}{(g.ToolClass is { } c ? $" ({c})" : string.Empty)}".TrimEnd()).Order(StringComparer.Ordinal);

    [Fact]
    public void A_full_record_tells_its_values_and_its_interval_and_leaves_no_gap()
    {
        var judgement = Glued().Done("COVER", 11, s => s.Tool("SD-1").Measured("TORQUE", 120m, "cN.m", standardUncertainty: 2m)).ShouldFind();

        Assert.Equal(
            ["GLUE DEPTH 5 mm True", "GLUE CLEAN  True", "COVER TORQUE 120 cN.m True"],
            judgement.Measurements.Select(m => $"{m.Step} {m.Characteristic} {m.Value} {m.Passed}"));
        var torque = judgement.Measurements[^1];
        Assert.Equal((1.2, "L2.M.T-2", 0.04), (torque.Magnitude, torque.Dimension, torque.Uncertainty));
        Assert.Equal((1, Some.At(10), Some.At(11), Some.Station), (torque.Attempt, torque.From, torque.To, torque.Station));
        Assert.Equal(((double?)null, null), (judgement.Measurements[1].Magnitude, judgement.Measurements[1].Dimension));
        var cure = Assert.Single(judgement.IntervalResults);
        Assert.Equal(("CURE", "GLUE", "COVER", IntervalVerdict.Kept), (cure.Rule.Value, cure.FromStep.Value, cure.ToStep.Value, cure.Verdict));
        Assert.Equal((TimeSpan.FromMinutes(10), TimeSpan.FromMinutes(10), Some.At(10)), (cure.Least, cure.Most, cure.At));
        Assert.Equal((judgement.Steps[0].Record, judgement.Steps[1].Record), (cure.FromRecord, cure.ToRecord));
        Assert.Empty(judgement.WorkGaps);
    }

    [Theory]
    [InlineData(5, true)]
    [InlineData(1.9, false)]
    [InlineData(2.5, null)]
    public void A_value_in_the_guard_band_is_neither_within_its_limits_nor_out(double depth, bool? within) =>
        Assert.Equal(within, Given.Done("GLUE", 0, s => s.Checked("CLEAN").Measured("DEPTH", (decimal)depth, "mm")).Judgement.Measurements[0].Passed);

    [Fact]
    public void A_value_that_was_not_judged_is_told_all_the_same()
    {
        var wrong = Torque(Glued().Done("COVER", 11, s => s.Tool("SD-1").Measured("TORQUE", 3m, "mm")));
        var unknown = Torque(Glued().Done("COVER", 11, s => s.Tool("SD-1").Measured("TORQUE", 3m, "smoot")));
        var unasked = Torque(Glued().Done("PAINT", 11, s => s.Measured("TORQUE", 1.2m, "N.m")));

        Assert.Equal((null, 0.003, "L"), (wrong.Passed, wrong.Magnitude, wrong.Dimension));
        Assert.Equal((null, null, (string?)null), (unknown.Passed, unknown.Magnitude, unknown.Dimension));
        Assert.Equal((null, 1.2, "PAINT"), (unasked.Passed, unasked.Magnitude, unasked.Step.Value));
    }

    [Fact]
    public void A_correction_takes_the_place_of_the_value_and_a_void_takes_it_away()
    {
        var story = Glued().Done("COVER", 11, s => s.Tool("SD-1").Measured("TORQUE", 1.0m, "N.m"));
        var record = story.LastId;
        var right = new StepRecord(Lamp, "COVER", Some.At(11)).Tool("SD-1").Measured("TORQUE", 1.2m, "N.m").Fact;

        Assert.Equal((1.0, false), (Torque(story).Magnitude, Torque(story).Passed));
        Assert.Equal((1.2, true), (Torque(story.Correct(record, right)).Magnitude, Torque(story).Passed));
        var judgement = story.Void(record).Judgement;
        Assert.DoesNotContain(judgement.Measurements, m => m.Step == Some.Step("COVER"));
        Assert.Empty(judgement.IntervalResults);
        Assert.Equal(
            ["Characteristic Voided COVER TORQUE", "Interval Voided COVER CURE", "Step Voided COVER", "Tool Voided COVER DRIVER (SCREWDRIVER)"],
            Gaps(judgement));
        Assert.All(judgement.WorkGaps, g => Assert.Equal((record, null, null), (g.Record, g.Station, g.Person)));
        Assert.Empty(story.Done("COVER", 20, s => s.Tool("SD-1").Measured("TORQUE", 1.2m, "N.m")).Judgement.WorkGaps);
    }

    [Fact]
    public void What_a_record_leaves_out_is_a_gap_of_its_station_and_person()
    {
        var judgement = Glued().Done("COVER", 11).Judgement;

        Assert.Equal(["Characteristic NotRecorded COVER TORQUE", "Tool NotRecorded COVER DRIVER (SCREWDRIVER)"], Gaps(judgement));
        Assert.All(judgement.WorkGaps, g => Assert.Equal(
            (judgement.Steps[1].Record, Some.At(10), Some.At(11), Some.Station, Some.Person), (g.Record, g.From, g.To, g.Station, g.Person)));
    }

    [Fact]
    public void A_tool_of_another_class_stands_where_one_is_asked_for_and_a_check_does_not_stand_for_a_value() =>
        Assert.Equal(
            ["Characteristic NotRecorded COVER TORQUE"],
            Gaps(Glued().Tool("IRON-1", "IRON").Done("COVER", 11, s => s.Tool("IRON-1").Checked("TORQUE")).Judgement));

    [Fact]
    public void A_step_that_nobody_recorded_though_a_later_one_needs_it_is_a_gap_with_all_that_it_asks_for()
    {
        var judgement = Glued().Done("TEST", 30).Judgement;

        Assert.Equal(
            ["Characteristic StepNotRecorded COVER TORQUE", "Interval StepNotRecorded COVER CURE", "Step StepNotRecorded COVER", "Tool StepNotRecorded COVER DRIVER (SCREWDRIVER)"],
            Gaps(judgement));
        Assert.All(judgement.WorkGaps, g => Assert.Equal((Guid.Empty, Some.At(-1_000), Some.At(30)), (g.Record, g.From, g.To)));
        Assert.Empty(Glued().Judgement.WorkGaps);
    }

    [Fact]
    public void The_stations_of_the_routing_are_told_since_the_work_was_done_at_none_other()
    {
        var gap = Assert.Single(Given.Done("COVER", 11, s => s.Tool("SD-1").Measured("TORQUE", 1.2m, "N.m")).Judgement.WorkGaps, g => g.Kind == WorkGapKind.Step);

        Assert.Equal("GLUE ST-1 ST-2", $"{gap.Step} {string.Join(' ', gap.Stations)}");
    }

    [Fact]
    public void A_record_that_cannot_be_read_may_be_work_at_any_step()
    {
        var judgement = Glued().Tell(new UnreadableFact("step_completed", "unknown member") { OccurredAt = Some.At(5) }).Judgement;

        Assert.Equal(["COVER", "GLUE", "TEST"], judgement.WorkGaps.Where(g => g.Kind == WorkGapKind.Step).Select(g => g.Step.Value).Order(StringComparer.Ordinal));
        Assert.All(judgement.WorkGaps, g => Assert.Equal((GapReason.Unreadable, (DateTimeOffset?)null), (g.Reason, g.To)));
    }

    [Fact]
    public void Clocks_widen_an_interval_on_both_sides()
    {
        var cure = Assert.Single(Glued(clock: new(TimeSpan.Zero, TimeSpan.FromSeconds(30), false))
            .Done("COVER", 9.25, s => s.Tool("SD-1").Measured("TORQUE", 1.2m, "N.m").Clock(new(TimeSpan.Zero, TimeSpan.FromSeconds(15), false))).Judgement.IntervalResults);

        Assert.Equal((TimeSpan.FromMinutes(7.5), TimeSpan.FromMinutes(9), IntervalVerdict.Undetermined), (cure.Least, cure.Most, cure.Verdict));
    }

    [Fact]
    public void An_interval_whose_start_is_not_recorded_may_have_been_of_any_length()
    {
        var judgement = Given.Done("COVER", 11, s => s.Tool("SD-1").Measured("TORQUE", 1.2m, "N.m")).Judgement;

        var cure = Assert.Single(judgement.IntervalResults);
        Assert.Equal((null, null, null, IntervalVerdict.Undetermined), (cure.FromRecord, cure.Least, cure.Most, cure.Verdict));
        Assert.Contains("Interval NotRecorded COVER CURE", Gaps(judgement));
    }

    [Fact]
    public void An_interval_whose_end_is_not_recorded_is_at_most_as_long_as_to_the_completion()
    {
        var judgement = Glued().Done("COVER", 11, s => s.Started(null).Tool("SD-1").Measured("TORQUE", 1.2m, "N.m")).Judgement;

        var cure = Assert.Single(judgement.IntervalResults);
        Assert.Equal((null, TimeSpan.FromMinutes(11), IntervalVerdict.Undetermined), (cure.Least, cure.Most, cure.Verdict));
        Assert.Equal(["Interval NotRecorded COVER CURE"], Gaps(judgement));
    }

    [Fact]
    public void An_interval_has_ended_when_the_step_is_started_and_not_yet_completed()
    {
        var story = Glued().Started("COVER", 5);

        var cure = Assert.Single(story.Judgement.IntervalResults);
        Assert.Equal((TimeSpan.FromMinutes(5), IntervalVerdict.TooShort, story.LastId), (cure.Least, cure.Verdict, cure.ToRecord));
        Assert.DoesNotContain(story.Judgement.WorkGaps, g => g.Kind == WorkGapKind.Interval);
        var unknown = Given.Started("COVER", 5);
        var gap = Assert.Single(unknown.Judgement.WorkGaps, g => g.Kind == WorkGapKind.Interval);
        Assert.Equal((WorkGapKind.Interval, unknown.LastId, Some.At(5), Some.Station), (gap.Kind, gap.Record, gap.From, gap.Station));
    }

    [Fact]
    public void A_step_that_is_started_is_work_until_its_completion_by_the_same_person_at_the_same_station_tells()
    {
        static UnitStory Begun() => Glued().Tell(new StepStarted(Lamp, Some.Step("TEST")) { OccurredAt = Some.At(5), Station = Some.Station, Person = Some.Person, Clock = Some.RightClock });

        var gap = Assert.Single(Begun().Judgement.WorkGaps);
        Assert.Equal((WorkGapKind.Step, GapReason.NotRecorded, Some.Step("TEST"), Begun().LastId), (gap.Kind, gap.Reason, gap.Step, gap.Record));
        Assert.Equal((Some.At(5), (DateTimeOffset?)null, Some.Station, Some.Person), (gap.From, gap.To, gap.Station, gap.Person));
        Assert.DoesNotContain(Begun().Done("TEST", 9).Judgement.WorkGaps, g => g.Step == Some.Step("TEST"));
        Assert.Equal(Some.At(9), Assert.Single(Begun().Done("TEST", 9, s => s.By("P-2")).Judgement.WorkGaps, g => g.Step == Some.Step("TEST")).To);
        Assert.Single(Begun().Done("TEST", 9, s => s.AtStation("ST-2")).Judgement.WorkGaps, g => g.Step == Some.Step("TEST"));
    }

    [Fact]
    public void The_time_of_a_step_reaches_from_its_start_to_its_completion_widened_by_the_clock()
    {
        var step = Glued(clock: new(TimeSpan.Zero, TimeSpan.FromSeconds(30), false)).Judgement.Steps[0];

        Assert.Equal((Some.At(-1.5), Some.At(0.5)), (step.Earliest, step.Latest));
    }
}
