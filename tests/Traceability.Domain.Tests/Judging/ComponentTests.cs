using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Judging;

/// <summary>A sealed hand lamp takes one light head.</summary>
public sealed class ComponentTests
{
    private static readonly UnitKey Lamp = Some.Unit("LAMP", "1");
    private static readonly UnitKey Head = Some.Unit("HEAD", "H1");
    private static readonly UnitKey Other = Some.Unit("HEAD", "H2");

    private static UnitStory Given => new UnitStory(Lamp)
        .Routing(new RoutingBuilder("LAMP").Step("MARRY", s => s.Component("HEAD", "HEAD", mustBeReleased: true)).Step("TEST"))
        .Component(Head, releasedAt: -100)
        .Component(Other, releasedAt: -100)
        .Open();

    [Fact]
    public void A_released_component_in_its_position_breaks_no_rule()
    {
        var judgement = Given.Done("MARRY", 0, s => s.Fitted("HEAD", Head)).ShouldFind();
        var inside = Assert.Single(judgement.Installations);
        Assert.Equal((Head, Some.At(0), (DateTimeOffset?)null), (inside.Component, inside.From, inside.To));
    }

    [Fact]
    public void A_component_put_in_by_its_own_fact_fills_the_position() =>
        Given.Tell(Installed(Head, -1)).Done("MARRY", 0).ShouldFind();

    [Fact]
    public void A_missing_serial_is_found_and_was_put_in_by_the_end_of_the_step()
    {
        var judgement = Given.Done("MARRY", 0).Tell(Installed(Head, 30)).ShouldFind("component-not-recorded HEAD");
        var gap = Assert.Single(judgement.Gaps);
        Assert.Equal((GapKind.Serial, Some.At(-1), Some.At(0)), (gap.Kind, gap.From, gap.To));
    }

    [Fact]
    public void A_component_of_another_item_is_a_defect()
    {
        var judgement = Given.Component(Some.Unit("LENS", "1"), -100).Done("MARRY", 0, s => s.Fitted("HEAD", Some.Unit("LENS", "1"))).ShouldFind("component-wrong-item HEAD");
        Assert.False(judgement.Steps[0].Passed);
    }

    [Fact]
    public void A_component_that_nobody_opened_is_unknown() =>
        Given.Done("MARRY", 0, s => s.Fitted("HEAD", Some.Unit("HEAD", "H9"))).ShouldFind("component-unknown HEAD");

    [Theory]
    [InlineData(0, false)]
    [InlineData(1, true)]
    public void A_component_must_be_released_when_it_is_put_in(double releasedAt, bool isTooLate) =>
        Given.Component(Some.Unit("HEAD", "H3"), releasedAt).Done("MARRY", 0, s => s.Fitted("HEAD", Some.Unit("HEAD", "H3")))
            .ShouldFind(isTooLate ? ["component-not-released HEAD"] : []);

    [Fact]
    public void A_held_component_is_found_and_one_whose_hold_was_lifted_is_not()
    {
        UnitStory Held() => Given.Know(new UnitHeld(Head, "scratch") { OccurredAt = Some.At(-50) });
        Held().Done("MARRY", 0, s => s.Fitted("HEAD", Head)).ShouldFind("component-held HEAD");
        Held().Know(new UnitHoldLifted(Head, "polished") { OccurredAt = Some.At(-10) }).Done("MARRY", 0, s => s.Fitted("HEAD", Head)).ShouldFind();
    }

    [Fact]
    public void A_component_inside_another_parent_is_found_until_it_was_taken_out()
    {
        Given.Inside(Head, Some.Unit("LAMP", "7"), -60).Done("MARRY", 0, s => s.Fitted("HEAD", Head)).ShouldFind("component-elsewhere HEAD");
        Given.Inside(Head, Some.Unit("LAMP", "7"), -60, to: 0).Done("MARRY", 0, s => s.Fitted("HEAD", Head)).ShouldFind();
        Given.Inside(Head, Some.Unit("LAMP", "7"), 1).Done("MARRY", 0, s => s.Fitted("HEAD", Head)).ShouldFind();
    }

    [Fact]
    public void Its_own_stored_installation_is_not_elsewhere() =>
        Given.Inside(Head, Lamp, 0).Done("MARRY", 0, s => s.Fitted("HEAD", Head)).ShouldFind();

    [Fact]
    public void A_position_that_the_revision_lacks_is_found() =>
        Given.Done("MARRY", 0, s => s.Fitted("HEAD", Head).Fitted("TAIL", Other)).ShouldFind("component-not-required TAIL");

    [Fact]
    public void A_swap_with_a_removal_is_no_finding_and_keeps_both_times()
    {
        var judgement = Given.Done("MARRY", 0, s => s.Fitted("HEAD", Head)).Tell(Removed(Head, 10)).Tell(Installed(Other, 10)).ShouldFind();
        Assert.Equal([(Head, Some.At(10)), (Other, (DateTimeOffset?)null)], judgement.Installations.Select(i => (i.Component, i.To)));
    }

    [Fact]
    public void A_component_put_where_another_is_ends_that_one_with_a_finding()
    {
        var judgement = Given.Done("MARRY", 0, s => s.Fitted("HEAD", Head)).Done("MARRY", 10, s => s.Fitted("HEAD", Other)).ShouldFind("component-not-removed HEAD");
        Assert.Equal(Some.At(10), judgement.Installations[0].To);
    }

    [Fact]
    public void The_same_component_named_again_is_still_the_same_installation() =>
        Assert.Single(Given.Done("MARRY", 0, s => s.Fitted("HEAD", Head)).Done("MARRY", 10, s => s.Fitted("HEAD", Head)).ShouldFind().Installations);

    [Fact]
    public void A_removal_of_what_is_not_inside_is_found() =>
        Given.Tell(Removed(Head, 10)).ShouldFind("component-removed-not-installed HEAD");

    [Fact]
    public void A_position_left_empty_by_a_unit_that_left_is_a_gap()
    {
        var judgement = Given.Done("MARRY", 0, s => s.Fitted("HEAD", Head)).Tell(Removed(Head, 10)).Done("TEST", 15).Released(20).Judgement;
        var gap = Assert.Single(judgement.Gaps);
        Assert.Equal((GapKind.Serial, Some.At(10), Some.At(20)), (gap.Kind, gap.From, gap.To));
    }

    private static ComponentInstalled Installed(UnitKey component, double at) =>
        new(Lamp, Some.Code("HEAD"), component, Some.Step("MARRY")) { OccurredAt = Some.At(at), Clock = Some.RightClock };

    private static ComponentRemoved Removed(UnitKey component, double at) =>
        new(Lamp, Some.Code("HEAD"), component, null) { OccurredAt = Some.At(at), Clock = Some.RightClock };
}
