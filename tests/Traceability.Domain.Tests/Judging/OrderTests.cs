using Traceability.Domain.Facts;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Judging;

/// <summary>A sealed hand lamp: the seal is set, proven, then closed for good.</summary>
public sealed class OrderTests
{
    private static readonly RoutingBuilder Lamp = new RoutingBuilder("LAMP")
        .Step("WIRE", s => s.Check("POLARITY"))
        .Step("SEAL", s => s.After("WIRE").Check("SEATED"))
        .Step("CLOSE", s => s.After("SEAL").PointOfNoReturn("WIRE", "SEAL"));

    private static UnitStory Given => new UnitStory(Some.Unit("LAMP", "1")).Routing(Lamp).Open();

    [Fact]
    public void Steps_done_in_order_and_passed_break_no_rule() =>
        Given.Done("WIRE", 0, s => s.Checked("POLARITY")).Done("SEAL", 10, s => s.Checked("SEATED")).Done("CLOSE", 20)
            .ShouldFind();

    [Fact]
    public void A_step_before_its_prerequisite_is_found() =>
        Given.Done("SEAL", 10, s => s.Checked("SEATED")).ShouldFind("prerequisite-not-passed WIRE");

    [Fact]
    public void A_prerequisite_that_failed_is_not_passed()
    {
        var judgement = Given.Done("WIRE", 0, s => s.Checked("POLARITY", passed: false)).Done("SEAL", 10, s => s.Checked("SEATED"))
            .ShouldFind("check-failed POLARITY", "prerequisite-not-passed WIRE");
        Assert.False(judgement.Steps[0].Passed);
        Assert.True(judgement.Steps[1].Passed);
    }

    [Fact]
    public void The_last_attempt_before_the_start_counts() =>
        Given.Done("WIRE", 0, s => s.Checked("POLARITY", passed: false)).Done("WIRE", 5, s => s.Checked("POLARITY")).Done("SEAL", 10, s => s.Checked("SEATED"))
            .ShouldFind("check-failed POLARITY");

    [Fact]
    public void A_prerequisite_completed_after_the_start_comes_too_late() =>
        Given.Done("SEAL", 10, s => s.Started(Some.At(4)).Checked("SEATED")).Done("WIRE", 5, s => s.Checked("POLARITY"))
            .ShouldFind("prerequisite-not-passed WIRE");

    [Fact]
    public void A_prerequisite_completed_as_the_step_starts_is_in_time() =>
        Given.Done("SEAL", 10, s => s.Started(Some.At(5)).Checked("SEATED")).Done("WIRE", 5, s => s.Checked("POLARITY"))
            .ShouldFind();

    [Fact]
    public void A_point_of_no_return_over_something_unproven_is_a_defect()
    {
        var judgement = Given.Done("SEAL", 10, s => s.Checked("SEATED")).Done("CLOSE", 20)
            .ShouldFind("prerequisite-not-passed WIRE", "hidden-step-not-proven WIRE");
        Assert.False(judgement.Steps[1].Passed);
    }

    [Fact]
    public void A_step_with_an_unjudged_interval_passes_but_proves_nothing() =>
        new UnitStory(Some.Unit("LAMP", "1"))
            .Routing(new RoutingBuilder("LAMP").Step("GLUE").Step("LOAD").Step("CLOSE", s => s.PointOfNoReturn()).Interval("CURE", "GLUE.mark:CLAMPED", "LOAD.completed", 5))
            .Open().Done("GLUE", 0).Done("LOAD", 10).Done("CLOSE", 20)
            .ShouldFind("interval-start-not-recorded CURE", "hidden-step-not-proven LOAD");

    [Fact]
    public void A_routing_may_make_its_order_a_mere_flag()
    {
        var flag = new RulePolicy(Enforcement.Flag, CountsAsDefect: true);
        var judgement = new UnitStory(Some.Unit("LAMP", "1"))
            .Routing(new RoutingBuilder("LAMP").Step("WIRE").Step("SEAL", s => s.After("WIRE").OrderPolicy(flag)))
            .Open().Done("SEAL", 0).ShouldFind("prerequisite-not-passed WIRE");
        Assert.Equal(flag, judgement.Findings[0].Policy);
        Assert.False(judgement.Steps[0].Passed);
    }

    [Fact]
    public void A_step_at_a_station_that_does_not_do_it_is_found() =>
        new UnitStory(Some.Unit("LAMP", "1")).Routing(new RoutingBuilder("LAMP").Step("WIRE", s => s.AtStations("ST-2", "ST-3")))
            .Open().Done("WIRE", 0, s => s.AtStation("ST-1")).Done("WIRE", 5, s => s.AtStation("ST-3"))
            .ShouldFind("station-not-for-step");

    [Fact]
    public void A_step_of_another_variant_is_found() =>
        new UnitStory(Some.Unit("LAMP", "1")).Routing(new RoutingBuilder("LAMP").Step("COAT", s => s.AppliesTo(StepBuilder.Variants("C"))))
            .Open("P").Done("COAT", 0)
            .ShouldFind("step-not-for-unit");

    [Fact]
    public void A_step_that_the_variant_has_is_fine_and_others_do_not_wait_for_it()
    {
        var routing = new RoutingBuilder("LAMP").Step("COAT", s => s.AppliesTo(StepBuilder.Variants("C"))).Step("TEST", s => s.After("COAT"));
        new UnitStory(Some.Unit("LAMP", "1")).Routing(routing).Open("C").Done("COAT", 0).Done("TEST", 5).ShouldFind();
        new UnitStory(Some.Unit("LAMP", "2")).Routing(routing).Open("P").Done("TEST", 5).ShouldFind();
    }

    [Fact]
    public void Work_on_a_held_unit_is_found_until_the_hold_is_lifted() =>
        Given.Tell(new UnitHeld(Some.Unit("LAMP", "1"), "leak") { OccurredAt = Some.At(-5) })
            .Done("WIRE", 0, s => s.Checked("POLARITY"))
            .Tell(new UnitHoldLifted(Some.Unit("LAMP", "1"), "repaired") { OccurredAt = Some.At(5) })
            .Done("SEAL", 10, s => s.Checked("SEATED"))
            .ShouldFind("worked-on-while-held");

    [Fact]
    public void Work_after_release_is_found() =>
        Given.Done("WIRE", 0, s => s.Checked("POLARITY")).Released(5).Done("SEAL", 10, s => s.Checked("SEATED"))
            .ShouldFind("worked-on-after-end");

    [Fact]
    public void Work_on_a_returned_unit_is_not_after_its_end() =>
        Given.Done("WIRE", 0, s => s.Checked("POLARITY")).Released(5)
            .Tell(new UnitShipped(Some.Unit("LAMP", "1"), "Fell End Supplies", null) { OccurredAt = Some.At(5.5) })
            .Tell(new UnitReturned(Some.Unit("LAMP", "1"), "dim") { OccurredAt = Some.At(6) })
            .Done("SEAL", 10, s => s.Checked("SEATED"))
            .ShouldFind();

    [Fact]
    public void A_doubtful_clock_is_a_finding_and_no_defect()
    {
        var judgement = Given.Done("WIRE", 0, s => s.Checked("POLARITY").Clock(new(TimeSpan.Zero, TimeSpan.FromMinutes(5), Doubtful: true)))
            .ShouldFind("clock-doubtful");
        Assert.True(judgement.Steps[0].Passed);
    }
}
