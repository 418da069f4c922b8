using Traceability.Domain.Cure;
using Traceability.Domain.Facts;
using Traceability.Domain.Items;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Releasing;

/// <summary>A lamp is wired, glued, married to a head and tested; the head is potted.</summary>
public sealed class ReleaseTests
{
    private static readonly UnitKey Lamp = Some.Unit("LAMP", "1");
    private static readonly UnitKey Head = Some.Unit("HEAD", "H1");
    private static readonly UnitKey Lens = Some.Unit("LENS", "L1");

    private static UnitStory Given => new UnitStory(Lamp)
        .Routing(new RoutingBuilder("LAMP")
            .Step("WIRE", s => s.Check("OK"))
            .Step("GLUE", s => s.After("WIRE").AtStations("ST-1"))
            .Step("MARRY", s => s.Component("HEAD", "HEAD"))
            .Step("COAT", s => s.AppliesTo(StepBuilder.Variants("C")))
            .Step("TEST", s => s.After("GLUE").Check("OK"))
            .Interval("CURE", "GLUE.completed", "TEST.started", minMinutes: 5)
            .Interval("OPEN", "WIRE.completed", "GLUE.started", maxMinutes: 60))
        .Component(Head, releasedAt: -100)
        .Open("P");

    private static UnitStory Complete => Given.Done("WIRE", 0, s => s.Checked("OK")).Done("GLUE", 10)
        .Done("MARRY", 12, s => s.Fitted("HEAD", Head)).Done("TEST", 30, s => s.Checked("OK"));

    [Fact]
    public void A_complete_unit_may_be_released() => ShouldLack(Complete, 40);

    [Fact]
    public void Everything_that_is_lacking_is_told_at_once() =>
        ShouldLack(
            Given.Done("WIRE", 0, s => s.Checked("OK", passed: false)).Done("GLUE", 10).Tell(new UnitHeld(Lamp, "doubt") { OccurredAt = Some.At(11) }).Started("MARRY", 12),
            14,
            "on-hold",
            "step-not-passed WIRE",
            "step-not-done MARRY",
            "step-not-done TEST",
            "step-not-finished MARRY",
            "interval-open CURE",
            "finding-open prerequisite-not-passed");

    [Fact]
    public void A_step_that_failed_and_was_done_again_has_passed() =>
        ShouldLack(Given.Done("WIRE", 0, s => s.Checked("OK", passed: false)).Done("WIRE", 5, s => s.Checked("OK")).Done("GLUE", 10)
            .Done("MARRY", 12, s => s.Fitted("HEAD", Head)).Done("TEST", 30, s => s.Checked("OK")), 40);

    [Fact]
    public void A_step_that_passed_and_then_failed_has_not() =>
        ShouldLack(Complete.Done("TEST", 35, s => s.Checked("OK", passed: false)), 40, "step-not-passed TEST");

    [Fact]
    public void A_step_of_another_variant_is_not_asked_for_and_one_of_its_own_is() =>
        ShouldLack(new UnitStory(Lamp).Routing(new RoutingBuilder("LAMP").Step("COAT", s => s.AppliesTo(StepBuilder.Variants("C"))).Step("TEST")).Open("C").Done("TEST", 1), 2, "step-not-done COAT");

    [Fact]
    public void A_start_without_a_completion_must_be_ended() =>
        ShouldLack(Complete.Started("GLUE", 35), 40, "step-not-finished GLUE");

    [Theory]
    [InlineData(39.99, true)]
    [InlineData(40, false)]
    public void A_bond_that_was_done_again_must_have_cured(double at, bool isLacking) =>
        ShouldLack(Complete.Done("GLUE", 35), at, isLacking ? ["interval-open CURE"] : []);

    // Invented: 60 min to full cure at 15 °C, 20 min at 25 °C.
    [Theory]
    [InlineData(15, 0, 200, true)]
    [InlineData(4, 20, 200, true)]
    [InlineData(15, 20, 140, true)]
    [InlineData(25, 20, 140, false)]
    public void A_bond_that_was_done_again_must_be_shown_to_have_cured(double celsius, double readUntil, double at, bool isLacking)
    {
        var condition = new CureCondition(Some.Code("GLUE"), CureState.Full, TimeSpan.FromMinutes(90), TimeSpan.FromMinutes(30), null);
        var story = new UnitStory(Lamp)
            .Routing(new RoutingBuilder("LAMP").Step("BOND", s => s.Material("GLUE", "ADH-1")).Step("LOAD").Interval("CURE", "BOND.completed", "LOAD.started", temperature: condition))
            .Curing("ADH-1", (15, 10, 60), (25, 3.33, 20)).Lot("ADH-1", "L1").Open()
            .Done("BOND", 0, s => s.Used("ADH-1", "L1")).Read("ST-1", (0, 25), (20, 25))
            .Done("LOAD", 40, s => s.Started(Some.At(30))).Done("BOND", 100, s => s.Used("ADH-1", "L1"))
            .Read("ST-1", [.. new[] { 0, readUntil }.Distinct().Select(m => (100 + m, (decimal)celsius))]);
        ShouldLack(story, at, isLacking ? ["interval-open CURE"] : []);
    }

    [Fact]
    public void A_maximum_that_runs_again_is_ended_by_its_step() =>
        ShouldLack(Complete.Done("WIRE", 35, s => s.Checked("OK")), 36, "interval-open OPEN");

    [Fact]
    public void A_finding_that_stops_stands_until_its_step_is_done_again()
    {
        UnitStory Elsewhere() => Given.Done("WIRE", 0, s => s.Checked("OK")).Done("GLUE", 10, s => s.AtStation("ST-2"))
            .Done("MARRY", 12, s => s.Fitted("HEAD", Head)).Done("TEST", 30, s => s.Checked("OK"));
        ShouldLack(Elsewhere(), 40, "finding-open station-not-for-step");
        ShouldLack(Elsewhere().Done("GLUE", 41).Done("TEST", 50, s => s.Checked("OK")), 60);
    }

    [Fact]
    public void A_wrong_component_stands_until_another_is_in_its_place()
    {
        UnitStory Wrong() => Given.Component(Lens, -100).Done("WIRE", 0, s => s.Checked("OK")).Done("GLUE", 10)
            .Done("MARRY", 12, s => s.Fitted("HEAD", Lens)).Done("TEST", 30, s => s.Checked("OK"));
        ShouldLack(Wrong(), 40, "step-not-passed MARRY");
        var removed = new ComponentRemoved(Lamp, Some.Code("HEAD"), Lens, null) { OccurredAt = Some.At(35) };
        ShouldLack(Wrong().Tell(removed), 40, "position-empty HEAD");
        ShouldLack(Wrong().Tell(removed).Tell(new ComponentInstalled(Lamp, Some.Code("HEAD"), Head, Some.Step("MARRY")) { OccurredAt = Some.At(36) }), 40);
    }

    [Fact]
    public void A_void_record_counts_for_nothing() => ShouldLack(Complete.Void(Complete.LastId), 40, "step-not-done TEST");

    [Fact]
    public void An_unreadable_record_is_in_the_way() =>
        ShouldLack(Complete.Tell(new UnreadableFact("step_completed", "unknown member") { OccurredAt = Some.At(33) }), 40, "finding-open record-unreadable");

    [Fact]
    public void A_product_without_a_routing_can_not_be_released_and_a_bought_part_can()
    {
        ShouldLack(new UnitStory(Lamp).Item("LAMP", ItemKind.Product).Open(), 1, "no-effective-revision");
        ShouldLack(new UnitStory(Lamp).Item("LAMP", ItemKind.Part).Open(), 1);
    }

    [Fact]
    public void A_unit_inside_that_is_not_released_must_have_all_that_a_release_needs()
    {
        var head = new UnitStory(Head).Routing(new RoutingBuilder("HEAD").Step("POT")).Open();
        var lamp = UnreleasedHead();
        Assert.Equal(["HEAD/H1 step-not-done"], Lacking(lamp, 40, Inside(head)));
        Assert.Empty(Lacking(lamp, 40, Inside(head.Done("POT", 5))));
        Assert.Equal(["HEAD/H1 on-hold"], Lacking(lamp, 40, Inside(head.Tell(new UnitHeld(Head, "scratch") { OccurredAt = Some.At(6) }))));
    }

    [Fact]
    public void A_unit_inside_that_is_released_is_asked_only_how_it_stands()
    {
        UnitStory Released() => new UnitStory(Head).Routing(new RoutingBuilder("HEAD").Step("POT")).Open().Released(-100);
        Assert.Empty(Lacking(Complete, 40, Inside(Released())));
        Assert.Equal(["HEAD/H1 on-hold"], Lacking(Complete, 40, Inside(Released().Tell(new UnitHeld(Head, "scratch") { OccurredAt = Some.At(6) }))));
        Assert.Equal(["HEAD/H1 component-not-on-site"], Lacking(Complete, 40, Inside(Released().Tell(new UnitScrapped(Head, "crack") { OccurredAt = Some.At(6) }))));
        Assert.Equal(["HEAD/H1 component-not-on-site"], Lacking(Complete, 40, Inside(Released().Tell(new UnitShipped(Head, "Fell End Supplies", null) { OccurredAt = Some.At(6) }))));
    }

    [Fact]
    public void A_hold_on_a_unit_deep_inside_is_in_the_way_also_where_what_holds_it_is_released()
    {
        var lens = new UnitStory(Lens).Item("LENS", ItemKind.Part).Open().Tell(new UnitHeld(Lens, "haze") { OccurredAt = Some.At(6) });
        var head = new UnitStory(Head).Routing(new RoutingBuilder("HEAD").Step("POT", s => s.Component("LENS", "LENS"))).Component(Lens).Open()
            .Done("POT", -200, s => s.Fitted("LENS", Lens)).Released(-100);
        Assert.Equal(["LENS/L1 on-hold"], Lacking(Complete, 40, Inside(head, Inside(lens))));
    }

    [Fact]
    public void A_unit_inside_that_nobody_knows_is_in_the_way() =>
        Assert.Equal(["HEAD/H1 component-unknown"], Lacking(Complete, 40));

    [Fact]
    public void A_unit_that_was_taken_out_is_not_asked_about() =>
        Assert.Equal(["LAMP/1 position-empty"], Lacking(Complete.Tell(new ComponentRemoved(Lamp, Some.Code("HEAD"), Head, null) { OccurredAt = Some.At(35) }), 40));

    // The units inside are those of the story: one released head.
    private static void ShouldLack(UnitStory story, double at, params string[] lacking)
    {
        var head = new UnitStory(Head).Open().Released(-100);
        var lens = new UnitStory(Lens).Open().Released(-100);
        var blockers = Release.Ask(new(story.ProductUnit, story.References, [Inside(head), Inside(lens)]), Some.At(at));
        Assert.All(blockers, b => Assert.False(string.IsNullOrWhiteSpace(b.Detail)));
        Assert.Equal(lacking.Order(StringComparer.Ordinal), blockers.Select(b => $"{b.Code} {b.Rule}".TrimEnd()).Order(StringComparer.Ordinal));
    }

    private static string[] Lacking(UnitStory story, double at, params AssembledUnit[] inside) =>
        [.. Release.Ask(new(story.ProductUnit, story.References, [.. inside]), Some.At(at)).Select(b => $"{b.Unit} {b.Code}")];

    private static AssembledUnit Inside(UnitStory story, params AssembledUnit[] inside) => new(story.ProductUnit, story.References, [.. inside]);

    private static UnitStory UnreleasedHead() => new UnitStory(Lamp)
        .Routing(new RoutingBuilder("LAMP").Step("MARRY", s => s.Component("HEAD", "HEAD"))).Component(Head).Open().Done("MARRY", 12, s => s.Fitted("HEAD", Head));
}
