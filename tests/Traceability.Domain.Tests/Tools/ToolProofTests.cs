using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.Routings;
using Traceability.Domain.Tests.Judging;
using Traceability.Domain.Tools;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Tools;

/// <summary>What the facts of a tool do to the steps that were done with it, and what they tell of the tool itself.</summary>
public sealed class ToolProofTests
{
    private static readonly ToolNumber Driver = ToolNumber.Parse("SD-1");

    private static UnitStory Given => new UnitStory(Some.Unit("LAMP", "1"))
        .Routing(new RoutingBuilder("LAMP")
            .Step("COVER", s => s.Tool("DRIVER", "SCREWDRIVER", "5", Some.Quantity(1.1m, "N.m"), Some.Quantity(1.3m, "N.m")))
            .Step("LOOK", s => s.Check("OK")))
        .Tool("SD-1", "SCREWDRIVER", needsCalibration: true)
        .Calibrated("SD-1", -4_000, validUntil: 4_000)
        .Verified("SD-1", "5", Some.Quantity(1.2m, "N.m"))
        .Open();

    private static UnitStory Used(UnitStory story) => story.Done("COVER", 0, s => s.Tool("SD-1", "5"));

    [Fact]
    public void A_check_that_fails_later_makes_the_use_doubtful_and_no_defect()
    {
        var judgement = Used(Given.Checked("SD-1", "5", 1.2m, -60).Checked("SD-1", "5", 1.4m, 60)).ShouldFind("tool-found-out DRIVER");

        Assert.True(judgement.Steps[0].Passed);
        Assert.Equal("2026-03-02T11:00:00Z", judgement.Only("tool-found-out").Evidence["last-good"]);
        Used(Given.Checked("SD-1", "5", 1.2m, 30).Checked("SD-1", "5", 1.4m, 60)).ShouldFind();
        Used(Given.Checked("SD-1", "3", 1.4m, 60)).ShouldFind();
    }

    [Fact]
    public void A_tool_that_failed_its_check_before_the_use_should_not_have_been_used()
    {
        var judgement = Used(Given.Checked("SD-1", "5", 1.4m, -60)).ShouldFind("tool-check-failed DRIVER");

        Assert.Equal(Enforcement.Stop, judgement.Only("tool-check-failed").Policy.Enforcement);
        Used(Given.Checked("SD-1", "5", 1.4m, -60).Checked("SD-1", "5", 1.2m, -30)).ShouldFind();
        Used(Given.Checked("SD-1", "5", 1.4m, -60).Calibrated("SD-1", -30)).ShouldFind();
    }

    [Fact]
    public void The_terminal_that_asks_first_is_told_no_after_a_failed_check_and_while_the_tool_is_out_of_use()
    {
        ReadinessAnswer Ask(UnitStory story) => Readiness.Ask(
            story.ProductUnit,
            story.References,
            new ReadinessQuestion(Some.Step("COVER"), Some.Station, Some.Person, [], [new(Driver, Some.Code("5"), null)], [], Some.Noon));

        Assert.Equal(ReadinessVerdict.Go, Ask(Given).Verdict);
        Assert.Equal(ReadinessVerdict.No, Ask(Given.Checked("SD-1", "5", 1.4m, -60)).Verdict);
        Assert.Equal(ReadinessVerdict.No, Ask(Given.Withdrawn("SD-1", -60)).Verdict);
        Assert.Equal(ReadinessVerdict.Go, Ask(Given.Withdrawn("SD-1", -60).Reinstated("SD-1", -30)).Verdict);
    }

    [Theory]
    [InlineData(-1, true)]
    [InlineData(0, true)]
    [InlineData(1, false)]
    public void A_tool_out_of_use_is_found_from_that_moment_on(double withdrawn, bool isFound) =>
        Used(Given.Withdrawn("SD-1", withdrawn)).ShouldFind(isFound ? ["tool-withdrawn DRIVER"] : []);

    // Guarded acceptance: ISO 14253-1:2017, clause 5; the acceptance zone here is 1.12 to 1.28.
    [Theory]
    [InlineData(1.12, "")]
    [InlineData(1.28, "")]
    [InlineData(1.11, "tool-torque-in-guard-band DRIVER")]
    [InlineData(1.29, "tool-torque-in-guard-band DRIVER")]
    [InlineData(1.3, "tool-torque-in-guard-band DRIVER")]
    [InlineData(1.31, "tool-torque-out-of-limits DRIVER")]
    public void The_uncertainty_of_the_verified_torque_narrows_the_limits(double torque, string expected) =>
        Used(Given.Know(Verified((decimal)torque, new(2m, "cN.m")))).ShouldFind(expected.Length == 0 ? [] : [expected]);

    [Fact]
    public void A_torque_without_uncertainty_is_held_against_the_limits_themselves() => Used(Given.Know(Verified(1.3m, null))).ShouldFind();

    [Fact]
    public void A_validity_by_interval_ends_as_one_that_is_written()
    {
        UnitStory With(double minutes) => Used(Given
            .Know(new ToolDefined(Driver, Some.Code("SCREWDRIVER"), "driver", NeedsCalibration: true) { OccurredAt = Some.At(-10), CalibrationInterval = TimeSpan.FromMinutes(minutes) })
            .Calibrated("SD-1", -100));

        With(101).ShouldFind();
        With(100).ShouldFind("tool-not-calibrated DRIVER");
    }

    [Fact]
    public void Each_record_that_counts_and_names_a_tool_is_a_usage()
    {
        var story = Given.Done("LOOK", 1, s => s.Checked("OK")).Done("COVER", 2, s => s.Tool("SD-1", "5").Tool("SD-9"));
        Assert.Equal(["SD-1 5 DRIVER", "SD-9  "], story.Judgement.ToolUsages.Select(u => $"{u.Tool} {u.Setting} {u.Requirement}"));
        Assert.All(story.Judgement.ToolUsages, u => Assert.Equal((Some.Step("COVER"), 1, story.LastId, Some.At(2), Some.At(1), Some.Station), (u.Step, u.Attempt, u.Record, u.At, u.From, u.Station!.Value)));
        Assert.Empty(story.Void(story.LastId).Judgement.ToolUsages);
    }

    [Fact]
    public void A_correction_that_names_another_tool_moves_the_usage()
    {
        var story = Used(Given);
        story.Correct(story.LastId, new StepRecord(story.Unit, "COVER", Some.Noon).Tool("SD-2", "5").Fact);
        Assert.Equal(["SD-2"], story.Judgement.ToolUsages.Select(u => u.Tool.Value));
    }

    [Theory]
    [InlineData(20.0, "Cel", 0.4, "K", CheckVerdict.Passed)]
    [InlineData(20.0, "Cel", 0.6, "K", CheckVerdict.Doubtful)]
    [InlineData(293.15, "K", 0.4, "K", CheckVerdict.Passed)]
    [InlineData(20.6, "Cel", 0.1, "K", CheckVerdict.Failed)]
    [InlineData(20.0, "m", 0.1, "K", CheckVerdict.Doubtful)]
    public void An_uncertainty_is_a_difference_also_on_a_scale_of_temperature(double reading, string unit, double uncertainty, string uncertaintyUnit, CheckVerdict expected) =>
        Assert.Equal(expected, ToolCheck.Of(new(
            Driver, null, [new((decimal)reading, unit)], new(19.5m, "Cel"), new(20.5m, "Cel"), new((decimal)uncertainty, uncertaintyUnit)) { OccurredAt = Some.Noon }));

    [Fact]
    public void The_last_study_on_each_joint_counts_in_the_unit_of_the_first()
    {
        var tool = Given
            .Know(Studied("HARD", -90, "N.m", 5m, 9m))
            .Know(Studied("HARD", -80, "N.m", 1.2m, 1.3m))
            .Know(Studied("SOFT", -70, "cN.m", 110m, 120m))
            .References.FindTool(Driver)!;
        var capability = ToolCapability.Of(tool, Some.Code("5"))!;

        Assert.Equal("N.m", capability.Unit);
        Assert.Equal([1.25, 1.15], capability.Figures.Joints.Select(j => Math.Round(j.Mean, 12)));
        Assert.Equal([Some.At(-80), Some.At(-70)], capability.Studies.Select(s => s.At));
        Assert.Null(ToolCapability.Of(tool, Some.Code("3")));
    }

    [Fact]
    public void A_slow_drift_shows_in_the_moving_average_before_a_value_is_out()
    {
        var story = Given;
        for (var day = 0; day < 40; day++)
        {
            // Invented: a steady tool for twenty checks, then a creep of half a thousandth each.
            story.Checked("SD-1", "5", 1.2m + (day % 2 == 0 ? 0.002m : -0.002m) + (day < 20 ? 0 : 0.0005m * (day - 19)), day);
        }

        var drift = ToolDrift.Of(story.References.FindTool(Driver)!, Some.Code("5"), null, null);

        Assert.Equal((20, 40, "N.m"), (drift.BaselineCount, drift.Points.Length, drift.Unit));
        Assert.Equal(1.2, drift.Limits!.Centre, 1e-12);
        Assert.Equal(0.004, drift.Limits.MeanRange, 1e-12);
        var points = drift.Points.ToList();
        var (drifting, isOut) = (points.FindIndex(p => p.IsDrifting), points.FindIndex(p => p.IsOut));
        Assert.True(drifting is >= 20 && drifting < isOut, $"The average signals at {drifting}, the first value at {isOut}.");
        Assert.All(drift.Points, p => Assert.Equal(CheckVerdict.Passed, p.Verdict));
    }

    [Fact]
    public void A_chart_of_a_period_of_another_setting_or_of_one_check_has_what_is_there()
    {
        var tool = Given.Checked("SD-1", "5", 1.2m, 0).Checked("SD-1", "5", 1.21m, 10).Checked("SD-1", "3", 1.2m, 5).References.FindTool(Driver)!;

        Assert.Equal([Some.At(0)], ToolDrift.Of(tool, Some.Code("5"), Some.At(0), Some.At(10)).Points.Select(p => p.Check.At));
        Assert.Null(ToolDrift.Of(tool, Some.Code("3"), null, null).Limits);
        Assert.Empty(ToolDrift.Of(tool, null, null, null).Points);
    }

    private static ToolSettingVerified Verified(decimal torque, EnteredQuantity? uncertainty) =>
        new(Driver, Some.Code("5"), new(torque, "N.m"), null) { OccurredAt = Some.At(-1), Uncertainty = uncertainty };

    private static ToolStudied Studied(string joint, double at, string unit, params decimal[] readings) =>
        new(Driver, Some.Code("5"), Some.Code(joint), [.. readings.Select(r => new EnteredQuantity(r, unit))]) { OccurredAt = Some.At(at) };
}
