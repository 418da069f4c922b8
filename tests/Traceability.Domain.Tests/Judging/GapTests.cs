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
        Assert.Equal([Some.Step("BOND"), Some.Step("MARRY")], judgement.Gaps.Select(g => g.Step!.Value));
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
    public void Where_nothing_names_the_lot_that_a_bought_unit_came_in_it_may_be_any_that_was_there_when_it_was_opened()
    {
        var story = new UnitStory(Lamp).Open();
        var gap = Assert.Single(story.Judgement.Gaps);
        Assert.Equal((GapKind.OwnLot, GapReason.NotRecorded, (StepCode?)null, (Code?)null, story.LastId), (gap.Kind, gap.Reason, gap.Step, gap.Requirement, gap.Record));
        Assert.Equal(("LAMP", DateTimeOffset.MinValue, (DateTimeOffset?)Some.At(-1_000), (StationCode?)null), (Assert.Single(gap.Items).Value, gap.From, gap.To, gap.Station));
    }

    [Fact]
    public void Where_the_opening_that_named_its_lot_is_void_the_lot_is_a_gap_until_another_one_names_it()
    {
        var story = new UnitStory(Lamp).Open(lot: "R7");
        story.Void(story.LastId);
        Assert.Empty(story.Judgement.Usages);
        var gap = Assert.Single(story.Judgement.Gaps);
        Assert.Equal((GapKind.OwnLot, GapReason.Voided, (DateTimeOffset?)null), (gap.Kind, gap.Reason, gap.To));
        Assert.Empty(story.Open(lot: "R8").Judgement.Gaps);
        Assert.Equal(Some.Lot("LAMP", "R8"), Assert.Single(story.Judgement.Usages).Lot);
    }

    [Fact]
    public void What_is_built_here_came_in_a_lot_only_if_a_record_said_so()
    {
        UnitStory Built() => new UnitStory(Lamp).Routing(new RoutingBuilder("LAMP").Step("WIPE"));
        Assert.Empty(Built().Open().Judgement.Gaps);
        var story = Built().Open();
        Assert.Empty(story.Void(story.LastId).Judgement.Gaps);
        story = Built().Open(lot: "R7");
        Assert.Equal((GapKind.OwnLot, GapReason.Voided), Assert.Single(story.Void(story.LastId).Judgement.Gaps.Select(g => (g.Kind, g.Reason))));
    }

    [Fact]
    public void An_unreadable_record_of_a_bought_unit_may_be_a_correction_of_its_lot()
    {
        var story = new UnitStory(Lamp).Open(lot: "R7").Tell(new UnreadableFact("record_corrected", "unknown member") { OccurredAt = Some.At(5) });
        var gap = Assert.Single(story.Judgement.Gaps);
        Assert.Equal((GapKind.OwnLot, GapReason.Unreadable, story.LastId), (gap.Kind, gap.Reason, gap.Record));
        Assert.Equal(Some.Lot("LAMP", "R7"), Assert.Single(story.Judgement.Usages).Lot);
    }

    [Fact]
    public void A_component_that_was_never_opened_may_be_of_any_lot_of_its_item_that_was_there_when_it_was_put_in()
    {
        var story = Given.Done("BOND", 0, s => s.Used("ADH-1", "L1", "T1")).Done("MARRY", 5, s => s.Fitted("HEAD", Some.Unit("HEAD", "H9")));
        var gap = Assert.Single(story.Judgement.Gaps);
        Assert.Equal((GapKind.OwnLot, GapReason.NotRecorded, "MARRY", "HEAD", story.LastId), (gap.Kind, gap.Reason, gap.Step?.Value, gap.Requirement?.Value, gap.Record));
        Assert.Equal(("HEAD", Some.At(5), (DateTimeOffset?)Some.At(5)), (Assert.Single(gap.Items).Value, gap.From, gap.To));
        Assert.Empty(story.Component(Some.Unit("HEAD", "H9")).Judgement.Gaps);
    }

    [Theory]
    [InlineData("R7", "R7")]
    [InlineData("R8", "R7, R7 or R8")]
    [InlineData(null, "R7")]
    public void A_second_opening_that_names_another_lot_leaves_open_which_one_it_came_in(string? second, string lots)
    {
        var usages = new UnitStory(Lamp).Open(lot: "R7").Open(at: -900, lot: second).ShouldFind("unit-opened-twice").Usages;
        Assert.Equal(lots, string.Join(", ", usages.GroupBy(u => u.Record).Select(r => string.Join(" or ", r.Select(u => u.Lot.Lot.Value)))));
        Assert.All(usages, u => Assert.Equal((u.Record != usages[0].Record, (StepCode?)null), (u.IsOneOf, u.Step)));
    }

    [Fact]
    public void Untraced_material_and_that_of_another_variant_leave_no_gap() =>
        Assert.Empty(new UnitStory(Lamp)
            .Routing(new RoutingBuilder("LAMP").Step("WIPE", s => s.Material("WIPE", "WIPE", Tracing.None).Material("KIT", "KIT", appliesTo: StepBuilder.Variants("C"))))
            .Open("P").Done("WIPE", 0).ShouldFind().Gaps);
}
