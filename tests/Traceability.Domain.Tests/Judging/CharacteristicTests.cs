using Traceability.Domain.Primitives;
using Traceability.Domain.Items;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Judging;

public sealed class CharacteristicTests
{
    private static readonly UnitKey Lamp = Some.Unit("LAMP", "1");

    private static UnitStory Given(Action<StepBuilder> step) =>
        new UnitStory(Lamp).Routing(new RoutingBuilder("LAMP").Step("MEASURE", step).Step("SHIM", s => s.After("MEASURE"))).Open();

    // A bore reamed to 11/32 inch for clearance is 8.73 mm (common practice, no source); 11/32 in is 8.73125 mm exactly.
    [Theory]
    [InlineData("8.73", "mm", true)]
    [InlineData("0.34375", "[in_i]", true)]
    [InlineData("0.3430", "[in_i]", false)]
    [InlineData("8.69", "mm", false)]
    [InlineData("8.76", "mm", false)]
    public void A_bore_is_held_against_its_limits_in_the_unit_it_was_measured_in(string value, string unit, bool isGood) =>
        Given(s => s.Measure("BORE", "mm", 8.72m, 8.75m))
            .Done("MEASURE", 0, s => s.Measured("BORE", decimal.Parse(value, System.Globalization.CultureInfo.InvariantCulture), unit))
            .ShouldFind(isGood ? [] : ["value-out-of-limits BORE"]);

    [Fact]
    public void Eleven_thirty_seconds_of_an_inch_is_exactly_its_limit_in_millimetres() =>
        Given(s => s.Measure("BORE", "mm", 8.73125m, 8.73125m)).Done("MEASURE", 0, s => s.Measured("BORE", 0.34375m, "[in_i]")).ShouldFind();

    [Fact]
    public void A_required_value_or_check_that_is_missing_has_not_passed()
    {
        var judgement = Given(s => s.Measure("BORE", "mm", 1, 2).Check("CLEAN")).Done("MEASURE", 0).ShouldFind("characteristic-not-recorded BORE", "characteristic-not-recorded CLEAN");
        Assert.False(judgement.Steps[0].Passed);
        Given(s => s.Measure("BORE", "mm", 1, 2, isRequired: false).Check("CLEAN", isRequired: false)).Done("MEASURE", 0).ShouldFind();
    }

    [Fact]
    public void A_failed_check_is_a_defect_and_a_passed_one_is_not()
    {
        Given(s => s.Check("CLEAN")).Done("MEASURE", 0, s => s.Checked("CLEAN", passed: false)).ShouldFind("check-failed CLEAN");
        Given(s => s.Check("CLEAN")).Done("MEASURE", 0, s => s.Checked("CLEAN")).ShouldFind();
    }

    [Fact]
    public void A_value_of_another_dimension_or_an_unknown_unit_is_not_judged_as_good()
    {
        Given(s => s.Measure("BORE", "mm", 1, 2)).Done("MEASURE", 0, s => s.Measured("BORE", 1.5m, "N")).ShouldFind("value-wrong-dimension BORE");
        Given(s => s.Measure("BORE", "mm", 1, 2)).Done("MEASURE", 0, s => s.Measured("BORE", 1.5m, "smoot")).ShouldFind("value-wrong-dimension BORE");
        Given(s => s.Measure("BORE", "mm", 1, 2)).Done("MEASURE", 0, s => s.Measured("BORE", 0.15m, "cm")).ShouldFind();
    }

    [Fact]
    public void What_nobody_asked_for_is_flagged() =>
        Given(s => s.Check("CLEAN")).Done("MEASURE", 0, s => s.Checked("CLEAN").Measured("MASS", 3, "g")).ShouldFind("characteristic-not-required MASS");

    // ISO 14253-1: a value within the guard band of a limit is not proven to conform.
    [Theory]
    [InlineData(9.99, "value-out-of-limits BORE")]
    [InlineData(10, "value-in-guard-band BORE")]
    [InlineData(10.19, "value-in-guard-band BORE")]
    [InlineData(10.2, null)]
    [InlineData(19.8, null)]
    [InlineData(19.81, "value-in-guard-band BORE")]
    [InlineData(20, "value-in-guard-band BORE")]
    [InlineData(20.01, "value-out-of-limits BORE")]
    public void A_value_in_the_guard_band_is_neither_good_nor_bad(double value, string? finding) =>
        Given(s => s.Measure("BORE", "mm", 10, 20, guardBand: 0.2m)).Done("MEASURE", 0, s => s.Measured("BORE", (decimal)value, "mm"))
            .ShouldFind(finding is null ? [] : [finding]);

    // Select-fit: shim = depth - width, within 0.02 mm.
    private static UnitStory SelectFit() => new UnitStory(Lamp).Routing(new RoutingBuilder("LAMP")
        .Step("DEPTH", s => s.Measure("DEPTH", "mm"))
        .Step("WIDTH", s => s.Measure("WIDTH", "mm"))
        .Step("SHIM", s => s.Measure("SHIM", "mm", Fit(-0.02m), Fit(0.02m)))).Open();

    private static Limit Fit(decimal tolerance) => new(tolerance, [
        new(1m, null, Some.Step("DEPTH"), Some.Code("DEPTH")),
        new(-1m, null, Some.Step("WIDTH"), Some.Code("WIDTH")),
    ]);

    [Theory]
    [InlineData(0.48, true)]
    [InlineData(0.52, true)]
    [InlineData(0.47, false)]
    [InlineData(0.53, false)]
    public void A_derived_limit_follows_the_values_of_this_unit(double shim, bool fits) =>
        SelectFit().Done("DEPTH", 0, s => s.Measured("DEPTH", 1.25m, "cm")).Done("WIDTH", 5, s => s.Measured("WIDTH", 12m, "mm"))
            .Done("SHIM", 10, s => s.Measured("SHIM", (decimal)shim, "mm"))
            .ShouldFind(fits ? [] : ["value-out-of-limits SHIM"]);

    [Fact]
    public void The_last_attempt_before_counts_and_one_after_does_not()
    {
        SelectFit().Done("DEPTH", 0, s => s.Measured("DEPTH", 13m, "mm")).Done("DEPTH", 2, s => s.Measured("DEPTH", 12.5m, "mm"))
            .Done("WIDTH", 5, s => s.Measured("WIDTH", 12m, "mm")).Done("SHIM", 10, s => s.Measured("SHIM", 0.5m, "mm")).ShouldFind();
        SelectFit().Done("DEPTH", 0, s => s.Measured("DEPTH", 13m, "mm"))
            .Done("WIDTH", 5, s => s.Measured("WIDTH", 12m, "mm")).Done("SHIM", 10, s => s.Measured("SHIM", 0.5m, "mm"))
            .Done("DEPTH", 12, s => s.Measured("DEPTH", 12.5m, "mm")).ShouldFind("value-out-of-limits SHIM");
    }

    [Fact]
    public void A_limit_that_depends_on_a_missing_value_is_not_derivable() =>
        SelectFit().Done("DEPTH", 0, s => s.Measured("DEPTH", 12.5m, "mm")).Done("SHIM", 10, s => s.Measured("SHIM", 0.5m, "mm")).ShouldFind("limit-not-derivable SHIM");

    [Fact]
    public void A_derived_limit_may_look_into_the_component_that_is_in_place()
    {
        var light = Some.Unit("HEAD", "H1");
        var heavy = Some.Unit("HEAD", "H2");
        var mass = new Limit(0m, [new(1m, Some.Code("HEAD"), Some.Step("WEIGH"), Some.Code("MASS"))]);
        UnitStory Matched() => new UnitStory(Lamp)
            .Routing(new RoutingBuilder("LAMP").Step("MARRY", s => s.Component("HEAD", "HEAD")).Step("MATCH", s => s.Measure("BASE", "g", null, mass)))
            .Item("HEAD", ItemKind.Subassembly)
            .Component(light).Know(new StepRecord(light, "WEIGH", Some.At(-500)).Measured("MASS", 40m, "g").Fact)
            .Component(heavy).Know(new StepRecord(heavy, "WEIGH", Some.At(-500)).Measured("MASS", 0.05m, "kg").Fact)
            .Open();
        Matched().Done("MARRY", 0, s => s.Fitted("HEAD", light)).Done("MATCH", 5, s => s.Measured("BASE", 45m, "g")).ShouldFind("value-out-of-limits BASE");
        Matched().Done("MARRY", 0, s => s.Fitted("HEAD", heavy)).Done("MATCH", 5, s => s.Measured("BASE", 45m, "g")).ShouldFind();
        Matched().Done("MARRY", 0, s => s.Fitted("HEAD", light))
            .Tell(new ComponentRemoved(Lamp, Some.Code("HEAD"), light, null) { OccurredAt = Some.At(2) })
            .Tell(new ComponentInstalled(Lamp, Some.Code("HEAD"), heavy, null) { OccurredAt = Some.At(3) })
            .Done("MATCH", 5, s => s.Measured("BASE", 45m, "g")).ShouldFind();
        Matched().Done("MATCH", 5, s => s.Measured("BASE", 45m, "g")).ShouldFind("limit-not-derivable BASE");
    }

    [Fact]
    public void Reported_defects_count_as_often_as_they_were_seen_and_unknown_codes_are_flagged()
    {
        var judgement = Given(s => s.Check("CLEAN")).Know(new DefectCodeDefined(Some.Code("CHIP"), "chipped") { OccurredAt = Some.At(-1) })
            .Done("MEASURE", 0, s => s.Checked("CLEAN").Defect("CHIP", 3).Defect("DENT")).ShouldFind("defect-reported CHIP", "defect-reported DENT", "defect-unknown DENT");
        Assert.Equal((4, 1, false), (judgement.Steps[0].Defects, judgement.Steps[0].Opportunities, judgement.Steps[0].Passed));
    }
}
