using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Judging;

/// <summary>Missing evidence never clears: each way in which evidence can be missing leaves a gap.</summary>
public sealed class GapTests
{
    private static readonly UnitKey Lamp = Some.Unit("LAMP", "1");
    private static readonly UnitKey Head = Some.Unit("HEAD", "H1");

    private static UnitStory Given => new UnitStory(Lamp)
        .Routing(new RoutingBuilder("LAMP")
            .Step("BOND", s => s.Material("GLUE", "ADH-1", Tracing.Container, ["ADH-2"]))
            .Step("MARRY", s => s.After("BOND").Component("HEAD", "HEAD"))
            .Step("TEST", s => s.After("MARRY")))
        .Lot("ADH-1", "L1").Lot("ADH-2", "M1").Opened("ADH-1", "L1", "T1", -60).Component(Head)
        .Open();

    [Fact]
    public void A_full_record_leaves_a_usage_and_no_gap()
    {
        var judgement = Given.Done("BOND", 0, s => s.Used("ADH-1", "L1", "T1").Clock(new(TimeSpan.Zero, TimeSpan.FromSeconds(30), false))).Judgement;
        Assert.Empty(judgement.Gaps);
        var usage = Assert.Single(judgement.Usages);
        Assert.Equal((Some.Lot("ADH-1", "L1"), "T1", false), (usage.Lot, usage.Container?.Value, usage.IsOneOf));
        Assert.Equal((Some.At(-1.5), Some.At(0.5)), (usage.From, usage.To));
    }

    [Fact]
    public void A_missing_lot_is_a_gap_for_every_accepted_item_over_the_time_of_the_step()
    {
        var gap = Assert.Single(Given.Done("BOND", 0).Judgement.Gaps);
        Assert.Equal((GapKind.Lot, GapReason.NotRecorded), (gap.Kind, gap.Reason));
        Assert.Equal("ADH-1, ADH-2", string.Join(", ", gap.Items));
        Assert.Equal((Some.At(-1), (DateTimeOffset?)Some.At(0), (StationCode?)Some.Station), (gap.From, gap.To, gap.Station));
    }

    [Fact]
    public void Where_no_start_is_known_the_gap_reaches_back_to_the_record_before()
    {
        Assert.Equal(Some.At(-1_000), Assert.Single(Given.Done("BOND", 0, s => s.Started(null)).Judgement.Gaps).From);
        Assert.Equal(Some.At(-20), Given.Done("TEST", -20).Done("BOND", 0, s => s.Started(null)).Judgement.Gaps.First(g => g.Step == Some.Step("BOND")).From);
    }

    [Fact]
    public void A_missing_container_is_a_gap_within_its_lot()
    {
        var gap = Assert.Single(Given.Done("BOND", 0, s => s.Used("ADH-1", "L1")).Judgement.Gaps);
        Assert.Equal((GapKind.Container, Some.Lot("ADH-1", "L1")), (gap.Kind, gap.Lot));
    }

    [Fact]
    public void An_accepted_alternative_fills_the_requirement_and_a_wrong_item_does_not()
    {
        Assert.Equal(GapKind.Container, Assert.Single(Given.Done("BOND", 0, s => s.Used("ADH-2", "M1")).Judgement.Gaps).Kind);
        Assert.Equal(GapKind.Lot, Assert.Single(Given.Done("BOND", 0, s => s.Used("ADH-9", "X", "T9")).Judgement.Gaps).Kind);
    }

    [Fact]
    public void One_of_these_lots_is_a_usage_of_each()
    {
        var judgement = Given.Lot("ADH-1", "L2").Done("BOND", 0, s => s.UsedOneOf("ADH-1", ["L1", "L2"], "T1")).Judgement;
        Assert.Equal(2, judgement.Usages.Length);
        Assert.All(judgement.Usages, u => Assert.True(u.IsOneOf));
    }

    [Fact]
    public void A_void_record_leaves_a_gap_until_the_step_is_recorded_again()
    {
        var story = Given.Done("BOND", 0, s => s.Used("ADH-1", "L1", "T1"));
        var judgement = story.Void(story.LastId).Judgement;
        Assert.Empty(judgement.Usages);
        Assert.Equal(GapReason.Voided, Assert.Single(judgement.Gaps).Reason);
        Assert.Empty(story.Done("BOND", 5, s => s.Used("ADH-1", "L1", "T1")).Judgement.Gaps);
    }

    [Fact]
    public void A_step_that_a_later_one_needs_and_nobody_recorded_is_a_gap_since_the_opening()
    {
        var judgement = Given.Done("TEST", 0).Judgement;
        Assert.Equal([Some.Step("BOND"), Some.Step("MARRY")], judgement.Gaps.Select(g => g.Step));
        Assert.All(judgement.Gaps, g => Assert.Equal((GapReason.StepNotRecorded, Some.At(-1_000)), (g.Reason, g.From)));
        Assert.Equal([Some.At(0), Some.At(0)], judgement.Gaps.Select(g => g.To));
    }

    [Fact]
    public void A_unit_that_left_has_a_gap_for_every_step_that_nobody_recorded()
    {
        Assert.Empty(Given.Judgement.Gaps);
        Assert.Equal(2, Given.Released(10).Judgement.Gaps.Length);
        Assert.Equal(2, Given.Tell(new UnitShipped(Lamp, "Fell End Supplies", null) { OccurredAt = Some.At(10) }).Judgement.Gaps.Length);
    }

    [Fact]
    public void An_unreadable_record_is_found_and_leaves_a_gap_for_every_step_for_it_may_repeat_one()
    {
        var judgement = Given.Done("BOND", 0, s => s.Used("ADH-1", "L1", "T1"))
            .Tell(new UnreadableFact("step_completed", "unknown member") { OccurredAt = Some.At(5) }).ShouldFind("record-unreadable");
        Assert.True(judgement.Status.HasUnreadable);
        Assert.Equal([Some.Step("BOND"), Some.Step("MARRY")], judgement.Gaps.Select(g => g.Step));
        Assert.All(judgement.Gaps, gap => Assert.Equal((GapReason.Unreadable, (DateTimeOffset?)null), (gap.Reason, gap.To)));
    }

    [Fact]
    public void Where_the_opening_is_unreadable_every_requirement_may_apply()
    {
        var judgement = new UnitStory(Lamp)
            .Routing(new RoutingBuilder("LAMP").Step("COAT", s => s.AppliesTo(StepBuilder.Variants("C")).Material("COAT", "COAT-1")))
            .Tell(new UnreadableFact("unit_opened", "unknown member") { OccurredAt = Some.At(5) }).Judgement;
        Assert.Equal(Some.Step("COAT"), Assert.Single(judgement.Gaps).Step);
    }

    [Fact]
    public void The_lot_that_a_bought_unit_came_in_is_a_usage()
    {
        var judgement = new UnitStory(Lamp).Open(lot: "R7").Judgement;
        var usage = Assert.Single(judgement.Usages);
        Assert.Equal((Some.Lot("LAMP", "R7"), (StepCode?)null), (usage.Lot, usage.Step));
    }

    [Fact]
    public void Untraced_material_and_that_of_another_variant_leave_no_gap() =>
        Assert.Empty(new UnitStory(Lamp)
            .Routing(new RoutingBuilder("LAMP").Step("WIPE", s => s.Material("WIPE", "WIPE", Tracing.None).Material("KIT", "KIT", appliesTo: StepBuilder.Variants("C"))))
            .Open("P").Done("WIPE", 0).ShouldFind().Gaps);
}
