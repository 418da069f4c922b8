using Traceability.Domain.Lots;
using Traceability.Domain.Routings;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Judging;

/// <summary>A sealed hand lamp is bonded with adhesive ADH-1 and greased with GR-1.</summary>
public sealed class MaterialTests
{
    private static UnitStory Given(Tracing tracing = Tracing.Lot, TimeSpan? life = null, decimal? min = null, decimal? max = null) =>
        new UnitStory(Some.Unit("LAMP", "1"))
            .Routing(new RoutingBuilder("LAMP").Step("BOND", s => s.Material(
                "GLUE", "ADH-1", tracing, ["ADH-2"], min is { } n ? Some.Quantity(n, "g") : null, max is { } x ? Some.Quantity(x, "g") : null)))
            .Item("ADH-1", life: life)
            .Lot("ADH-1", "L1")
            .Open();

    [Fact]
    public void The_right_lot_in_date_breaks_no_rule() => Given().Done("BOND", 0, s => s.Used("ADH-1", "L1")).ShouldFind();

    [Fact]
    public void An_approved_alternative_breaks_no_rule() =>
        Given().Lot("ADH-2", "M1").Done("BOND", 0, s => s.Used("ADH-2", "M1")).ShouldFind();

    [Fact]
    public void A_missing_lot_is_found_and_is_no_defect()
    {
        var judgement = Given().Done("BOND", 0).ShouldFind("material-not-recorded GLUE");
        Assert.True(judgement.Steps[0].Passed);
        Given().Done("BOND", 0, s => s.Used("ADH-1")).ShouldFind("material-not-recorded GLUE");
    }

    [Fact]
    public void The_wrong_item_in_place_of_the_required_one_is_a_defect()
    {
        var judgement = Given().Lot("ADH-9", "X").Done("BOND", 0, s => s.Used("ADH-9", "X")).ShouldFind("material-wrong-item GLUE");
        Assert.False(judgement.Steps[0].Passed);
        Given().Lot("ADH-9", "X").Done("BOND", 0, s => s.Used("ADH-9", "X", requirement: "GLUE")).ShouldFind("material-wrong-item GLUE");
    }

    [Fact]
    public void Material_beyond_what_is_required_is_only_flagged()
    {
        var judgement = Given().Lot("GR-1", "G").Done("BOND", 0, s => s.Used("ADH-1", "L1").Used("GR-1", "G")).ShouldFind("material-not-required");
        Assert.True(judgement.Steps[0].Passed);
    }

    [Fact]
    public void One_of_several_lots_is_ambiguous() =>
        Given().Lot("ADH-1", "L2").Done("BOND", 0, s => s.UsedOneOf("ADH-1", ["L1", "L2"])).ShouldFind("lot-ambiguous GLUE");

    [Fact]
    public void The_same_lot_twice_is_not_ambiguous() =>
        Given().Done("BOND", 0, s => s.UsedOneOf("ADH-1", ["L1", "L1"])).ShouldFind();

    [Fact]
    public void Of_several_lots_one_bad_one_is_not_known_to_be_used_and_two_are()
    {
        Given().Lot("ADH-1", "OLD", Some.At(-1)).Done("BOND", 0, s => s.UsedOneOf("ADH-1", ["L1", "OLD"])).ShouldFind("lot-ambiguous GLUE");
        Given().Lot("ADH-1", "OLD", Some.At(-1)).Lot("ADH-1", "OLDER", Some.At(-2)).Done("BOND", 0, s => s.UsedOneOf("ADH-1", ["OLDER", "OLD"]))
            .ShouldFind("lot-ambiguous GLUE", "lot-expired GLUE");
    }

    [Fact]
    public void A_lot_that_nobody_received_is_unknown() => Given().Done("BOND", 0, s => s.Used("ADH-1", "L9")).ShouldFind("lot-unknown GLUE");

    [Theory]
    [InlineData(-1, true)]
    [InlineData(0, true)]
    [InlineData(1, false)]
    public void A_lot_is_expired_at_and_after_its_expiry(double expiresAt, bool isExpired) =>
        Given().Lot("ADH-1", "L3", Some.At(expiresAt)).Done("BOND", 0, s => s.Used("ADH-1", "L3"))
            .ShouldFind(isExpired ? ["lot-expired GLUE"] : []);

    [Fact]
    public void An_expiry_set_anew_counts() =>
        Given().Lot("ADH-1", "L3", Some.At(-1))
            .Know(new LotExpirySet(Some.Lot("ADH-1", "L3"), Some.At(60), "retested") { OccurredAt = Some.At(500) })
            .Done("BOND", 0, s => s.Used("ADH-1", "L3")).ShouldFind();

    [Theory]
    [InlineData(1, true)]
    [InlineData(0, false)]
    public void A_lot_must_be_released_at_the_time_of_use(double releasedAt, bool isTooLate) =>
        Given().Lot("ADH-1", "L4", isReleased: false)
            .Know(new LotReleased(Some.Lot("ADH-1", "L4")) { OccurredAt = Some.At(releasedAt) })
            .Done("BOND", 0, s => s.Used("ADH-1", "L4"))
            .ShouldFind(isTooLate ? ["lot-not-released GLUE"] : []);

    [Fact]
    public void A_lot_quarantined_later_was_released_when_used() =>
        Given().Know(new LotQuarantined(Some.Lot("ADH-1", "L1"), "complaint") { OccurredAt = Some.At(1) })
            .Done("BOND", 0, s => s.Used("ADH-1", "L1")).ShouldFind();

    [Fact]
    public void A_missing_container_is_found_where_containers_are_traced() =>
        Given(Tracing.Container).Done("BOND", 0, s => s.Used("ADH-1", "L1")).ShouldFind("container-not-recorded GLUE");

    [Fact]
    public void A_container_is_found_when_no_opening_is_recorded_by_its_use()
    {
        Given(Tracing.Container).Done("BOND", 0, s => s.Used("ADH-1", "L1", "T1")).ShouldFind("container-not-opened GLUE");
        Given(Tracing.Container).Opened("ADH-1", "L1", "T1", at: 1).Done("BOND", 0, s => s.Used("ADH-1", "L1", "T1")).ShouldFind("container-not-opened GLUE");
        Given(Tracing.Container).Opened("ADH-1", "L1", "T1", at: -1).Done("BOND", 0, s => s.Used("ADH-1", "L1", "T1")).ShouldFind();
    }

    [Theory]
    [InlineData(-61, true)]
    [InlineData(-60, true)]
    [InlineData(-59, false)]
    public void A_container_may_not_be_used_at_or_after_the_end_of_its_life(double openedAt, bool isPast) =>
        Given(Tracing.Container, TimeSpan.FromHours(1)).Opened("ADH-1", "L1", "T1", openedAt).Done("BOND", 0, s => s.Used("ADH-1", "L1", "T1"))
            .ShouldFind(isPast ? ["container-past-life GLUE"] : []);

    [Theory]
    [InlineData("g", 0.29, true)]
    [InlineData("g", 0.30, false)]
    [InlineData("mg", 500, false)]
    [InlineData("mg", 501, true)]
    public void A_quantity_is_converted_and_held_against_its_limits(string unit, double value, bool isOut) =>
        Given(min: 0.3m, max: 0.5m).Done("BOND", 0, s => s.Used("ADH-1", "L1", quantity: Some.Quantity((decimal)value, unit)))
            .ShouldFind(isOut ? ["quantity-out-of-limits GLUE"] : []);

    [Fact]
    public void The_quantities_of_one_requirement_add_up() =>
        Given(min: 0.3m, max: 0.5m).Lot("ADH-1", "L2")
            .Done("BOND", 0, s => s.Used("ADH-1", "L1", quantity: Some.Quantity(0.2m, "g")).Used("ADH-1", "L2", quantity: Some.Quantity(200m, "mg")))
            .ShouldFind();

    [Fact]
    public void A_quantity_that_is_missing_or_of_another_dimension_is_found()
    {
        Given(max: 0.5m).Done("BOND", 0, s => s.Used("ADH-1", "L1")).ShouldFind("quantity-not-recorded GLUE");
        Given(max: 0.5m).Done("BOND", 0, s => s.Used("ADH-1", "L1", quantity: Some.Quantity(0.4m, "mL"))).ShouldFind("value-wrong-dimension GLUE");
    }

    [Fact]
    public void Material_of_a_variant_is_required_on_that_variant_only()
    {
        var routing = new RoutingBuilder("LAMP").Step("SEAL", s => s.Material("KIT", "KIT-C", appliesTo: StepBuilder.Variants("C")));
        UnitStory Lamp(string variant) => new UnitStory(Some.Unit("LAMP", "1")).Routing(routing).Lot("KIT-C", "K1").Open(variant);
        Lamp("C").Done("SEAL", 0).ShouldFind("material-not-recorded KIT");
        Lamp("P").Done("SEAL", 0).ShouldFind();
        Lamp("P").Done("SEAL", 0, s => s.Used("KIT-C", "K1")).ShouldFind("material-not-required");
    }

    [Fact]
    public void Each_record_serves_one_of_two_requirements_of_the_same_item()
    {
        var routing = new RoutingBuilder("LAMP").Step("BOND", s => s.Material("FRONT", "ADH-1").Material("BACK", "ADH-1"));
        UnitStory Lamp() => new UnitStory(Some.Unit("LAMP", "1")).Routing(routing).Lot("ADH-1", "L1").Lot("ADH-1", "L2").Open();
        var both = Lamp().Done("BOND", 0, s => s.Used("ADH-1", "L1").Used("ADH-1", "L2")).ShouldFind();
        Assert.Equal("FRONT, BACK", string.Join(", ", both.Usages.Select(u => u.Requirement)));
        Lamp().Done("BOND", 0, s => s.Used("ADH-1", "L1")).ShouldFind("material-not-recorded BACK");
    }

    [Fact]
    public void A_sublot_is_judged_by_the_lot_that_it_came_from()
    {
        UnitStory Split(double expires = 500) => Given().Lot("ADH-1", "OLD", Some.At(expires))
            .Know(new LotSplit(Some.Lot("ADH-1", "S"), new(Some.Lot("ADH-1", "OLD"), null, null), []) { OccurredAt = Some.At(-50) });
        Split().Done("BOND", 0, s => s.Used("ADH-1", "S")).ShouldFind();
        Split(expires: 0).Done("BOND", 0, s => s.Used("ADH-1", "S")).ShouldFind("lot-expired GLUE");
        Split().Know(new LotQuarantined(Some.Lot("ADH-1", "OLD"), "complaint") { OccurredAt = Some.At(-10) })
            .Done("BOND", 0, s => s.Used("ADH-1", "S")).ShouldFind("lot-not-released GLUE");
        Split().Know(new LotQuarantined(Some.Lot("ADH-1", "OLD"), "complaint") { OccurredAt = Some.At(1) })
            .Done("BOND", 0, s => s.Used("ADH-1", "S")).ShouldFind();
    }

    [Theory]
    [InlineData(0, false)]
    [InlineData(1, true)]
    public void A_use_before_a_recertification_is_judged_by_what_was_valid_then(double recertifiedAt, bool isExpired) =>
        Given().Lot("ADH-1", "L3", Some.At(-5))
            .Know(new LotRecertified(Some.Lot("ADH-1", "L3"), Some.At(600), "Report 17", Some.Quality) { OccurredAt = Some.At(recertifiedAt) })
            .Done("BOND", 0, s => s.Used("ADH-1", "L3"))
            .ShouldFind(isExpired ? ["lot-expired GLUE"] : []);

    [Theory]
    [InlineData(0, true, null)]
    [InlineData(1, true, "lot-not-inspected GLUE")]
    [InlineData(0, false, "lot-not-released GLUE")]
    public void Where_the_item_asks_for_it_an_inspection_must_have_accepted_the_lot(double inspectedAt, bool accepted, string? finding)
    {
        var story = Given()
            .Know(new Traceability.Domain.Items.ItemDefined(Some.Item("ADH-1"), Traceability.Domain.Items.ItemKind.Consumable, "Adhesive", [], null) { OccurredAt = Some.At(-8_900), NeedsInspection = true })
            .Know(new LotInspected(Some.Lot("ADH-1", "L1"), accepted, null, [], null, null) { OccurredAt = Some.At(inspectedAt) })
            .Done("BOND", 0, s => s.Used("ADH-1", "L1"));
        story.ShouldFind(finding is null ? [] : [finding]);
    }

    [Fact]
    public void A_usage_keeps_its_quantity_as_entered() =>
        Assert.Equal(Some.Quantity(0.40m, "g"), Assert.Single(Given().Done("BOND", 0, s => s.Used("ADH-1", "L1", quantity: Some.Quantity(0.40m, "g"))).Judgement.Usages).Quantity);

    [Fact]
    public void A_stored_fact_of_a_source_that_cant_be_read_is_told() =>
        Assert.Contains(
            "lot/ADH-1/OLD",
            Given().Lot("ADH-1", "OLD").Know(new LotSplit(Some.Lot("ADH-1", "S"), new(Some.Lot("ADH-1", "OLD"), null, null), []) { OccurredAt = Some.At(-50) })
                .KnowIn("lot/ADH-1/OLD", new Traceability.Domain.Facts.UnreadableFact("lot_gone", "unknown name") { OccurredAt = Some.At(-40) })
                .Done("BOND", 0, s => s.Used("ADH-1", "S")).Judgement.Unreadable,
            StringComparer.Ordinal);
}
