using Traceability.Domain.People;
using Traceability.Domain.Primitives;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Judging;

/// <summary>Screws of a sealed hand lamp: a low clutch setting for the small electronics screws, a higher one for the rest (common practice, no source).</summary>
public sealed class ToolAndPersonTests
{
    private static UnitStory Given => new UnitStory(Some.Unit("LAMP", "1"))
        .Routing(new RoutingBuilder("LAMP")
            .Step("BOARD", s => s.Tool("DRIVER", "SCREWDRIVER", "2", Some.Quantity(0.15m, "N.m"), Some.Quantity(0.25m, "N.m")))
            .Step("COVER", s => s.Tool("DRIVER", "SCREWDRIVER", "5", Some.Quantity(1.1m, "N.m"), Some.Quantity(1.3m, "N.m")))
            .Step("GAUGE", s => s.Tool("GAUGE", "CALLIPER"))
            .Step("BOND", s => s.Needs("BONDING")))
        .Tool("SD-1", "SCREWDRIVER", needsCalibration: true)
        .Calibrated("SD-1", -4_000, validUntil: 4_000)
        .Verified("SD-1", "2", Some.Quantity(0.2m, "N.m"))
        .Verified("SD-1", "5", Some.Quantity(1.2m, "N.m"))
        .Open();

    [Fact]
    public void The_low_and_the_high_setting_as_prescribed_break_no_rule() =>
        Given.Done("BOARD", 0, s => s.Tool("SD-1", "2")).Done("COVER", 5, s => s.Tool("SD-1", "5")).ShouldFind();

    [Fact]
    public void The_high_setting_on_the_small_screws_is_a_defect_by_setting_and_by_torque()
    {
        var judgement = Given.Done("BOARD", 0, s => s.Tool("SD-1", "5")).ShouldFind("tool-setting-wrong DRIVER", "tool-torque-out-of-limits DRIVER");
        Assert.False(judgement.Steps[0].Passed);
    }

    [Fact]
    public void A_clutch_number_is_not_a_torque()
    {
        UnitStory Unverified() => Given.Tool("SD-2", "SCREWDRIVER").Verified("SD-2", "2", Some.Quantity(0.2m, "N.m"));
        Unverified().Done("COVER", 0, s => s.Tool("SD-2", "5")).ShouldFind("tool-setting-not-verified DRIVER");
        Unverified().Verified("SD-2", "5", Some.Quantity(1.2m, "N.m"), at: 1).Done("COVER", 0, s => s.Tool("SD-2", "5")).ShouldFind("tool-setting-not-verified DRIVER");
        Unverified().Verified("SD-2", "5", Some.Quantity(1.2m, "N.m"), at: -9, validUntil: 0).Done("COVER", 0, s => s.Tool("SD-2", "5")).ShouldFind("tool-setting-not-verified DRIVER");
        Unverified().Verified("SD-2", "5", Some.Quantity(1.2m, "N.m"), at: -9, validUntil: 1).Done("COVER", 0, s => s.Tool("SD-2", "5")).ShouldFind();
    }

    [Fact]
    public void A_setting_that_is_not_recorded_is_found_once() =>
        Given.Done("COVER", 0, s => s.Tool("SD-1")).ShouldFind("tool-setting-not-verified DRIVER");

    [Theory]
    [InlineData(1.3, "N.m", false)]
    [InlineData(1.31, "N.m", true)]
    [InlineData(110, "cN.m", false)]
    [InlineData(109, "cN.m", true)]
    public void The_verified_torque_of_the_setting_is_held_against_the_limits(double torque, string unit, bool isOut) =>
        Given.Tool("SD-3", "SCREWDRIVER").Verified("SD-3", "5", Some.Quantity((decimal)torque, unit)).Done("COVER", 0, s => s.Tool("SD-3", "5"))
            .ShouldFind(isOut ? ["tool-torque-out-of-limits DRIVER"] : []);

    [Fact]
    public void A_missing_an_unknown_and_a_wrong_tool_are_told_apart()
    {
        Given.Done("COVER", 0).ShouldFind("tool-not-recorded DRIVER");
        Given.Done("COVER", 0, s => s.Tool("SD-9", "5")).ShouldFind("tool-unknown DRIVER");
        Given.Tool("CA-1", "CALLIPER").Done("COVER", 0, s => s.Tool("CA-1", "5")).ShouldFind("tool-wrong-class DRIVER");
        Given.Tool("CA-1", "CALLIPER").Done("GAUGE", 0, s => s.Tool("CA-1")).ShouldFind();
    }

    [Theory]
    [InlineData(3_999, false)]
    [InlineData(4_000, true)]
    public void A_calibration_ends_at_its_validity(double at, bool isOver) =>
        Given.Done("BOARD", at, s => s.Tool("SD-1", "2")).ShouldFind(isOver ? ["tool-not-calibrated DRIVER"] : []);

    [Fact]
    public void A_tool_left_bad_or_never_calibrated_is_not_calibrated()
    {
        Given.Calibrated("SD-1", -10, leftGood: false).Done("BOARD", 0, s => s.Tool("SD-1", "2")).ShouldFind("tool-not-calibrated DRIVER");
        Given.Tool("SD-4", "SCREWDRIVER", needsCalibration: true).Verified("SD-4", "2", Some.Quantity(0.2m, "N.m")).Done("BOARD", 0, s => s.Tool("SD-4", "2"))
            .ShouldFind("tool-not-calibrated DRIVER");
    }

    [Fact]
    public void A_tool_found_out_at_the_next_calibration_makes_its_uses_doubtful_and_not_defective()
    {
        var judgement = Given.Calibrated("SD-1", 100, foundGood: false).Done("BOARD", 0, s => s.Tool("SD-1", "2")).ShouldFind("tool-found-out DRIVER");
        Assert.True(judgement.Steps[0].Passed);
        Given.Calibrated("SD-1", 50).Calibrated("SD-1", 100, foundGood: false).Done("BOARD", 0, s => s.Tool("SD-1", "2")).ShouldFind();
    }

    [Fact]
    public void A_person_must_be_qualified_at_that_time()
    {
        Given.Qualified("P-1", "BONDING").Done("BOND", 0).ShouldFind();
        Given.Done("BOND", 0).ShouldFind("person-not-qualified BONDING");
        Given.Qualified("P-1", "BONDING", at: 1).Done("BOND", 0).ShouldFind("person-not-qualified BONDING");
        Given.Qualified("P-1", "BONDING", validUntil: 0).Done("BOND", 0).ShouldFind("person-not-qualified BONDING");
        Given.Qualified("P-1", "BONDING")
            .Know(new QualificationWithdrawn(PersonCode.Parse("P-1"), Some.Code("BONDING"), "lapsed") { OccurredAt = Some.At(-5) })
            .Done("BOND", 0).ShouldFind("person-not-qualified BONDING");
        Given.Qualified("P-1", "BONDING").Done("BOND", 0, s => s.By(null)).ShouldFind("person-not-recorded BONDING");
    }
}
