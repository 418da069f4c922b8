using System.Collections.Immutable;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Lots;

/// <summary>Worked by hand: conservation of mass, and how many units a quantity is enough for.</summary>
public sealed class LotReconciliationTests
{
    private static readonly ImmutableArray<LotUseOfUnit> Takes =
        [new([Some.Quantity(2m, "g")], 3), new([Some.Quantity(1.5m, "g"), Some.Quantity(1500m, "mg")], 2), new([Some.Quantity(4m, "g")], 1)];

    [Fact]
    public void What_a_unit_takes_is_told_by_least_median_and_most_over_all_its_uses()
    {
        // 2, 2, 2, 3, 3, 4: the lower of the two in the middle is 2.
        Assert.Equal(new(6, 2m, 2m, 4m), LotUsePerUnit.Of(Takes, "g"));
        Assert.Equal(new(6, 0.002m, 0.002m, 0.004m), LotUsePerUnit.Of(Takes, "kg"));
        Assert.Null(LotUsePerUnit.Of(Takes, "mL"));
        Assert.Null(LotUsePerUnit.Of(Takes, null));
        Assert.Null(LotUsePerUnit.Of([new([Some.Quantity(0m, "g")], 4)], "g"));
    }

    [Fact]
    public void Nothing_is_said_while_the_units_with_a_missing_record_could_have_taken_it_all()
    {
        // 12 g unexplained; three units with a missing record, up to 4 g each.
        var found = Of(received: 100m, onHand: 73m, openUnits: 3);

        Assert.Equal((12m, 12m, 0m), (found.Balance.UnexplainedMost, found.CapacityMost, found.BeyondMost));
        Assert.Equal((6L, 6L), (found.UnitsMost, found.UnitsTypical));
        Assert.Empty(found.Warnings());
    }

    [Fact]
    public void What_they_could_not_have_taken_is_said_to_be_beyond_the_scope()
    {
        // 12 g unexplained; two units could have taken 8 g; the 4 g beyond are enough for two units at the least of 2 g.
        var found = Of(received: 100m, onHand: 73m, openUnits: 2);
        var warning = Assert.Single(found.Warnings());

        Assert.Equal((LotReconciliation.BeyondScope, 4m), (warning.Code, found.BeyondLeast));
        Assert.Contains("12 g of lot ADH/L is unexplained, and the 2 units with a missing record could have taken 8 g at most", warning.Detail, StringComparison.Ordinal);
        Assert.Contains("enough for 6 units at 2 g each, the least by record", warning.Detail, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(74.5, false)]
    [InlineData(71.01, false)]
    [InlineData(71.00, true)]
    [InlineData(70.99, true)]
    public void Less_than_a_unit_takes_is_in_no_further_unit(double onHand, bool warns)
    {
        // 100 − 15 − on hand is unexplained; three units could have taken 12 g, and the least that a unit takes is 2 g.
        var found = Of(received: 100m, onHand: (decimal)onHand, openUnits: 3);
        Assert.Equal(warns, !found.Warnings().IsEmpty);
    }

    [Fact]
    public void Without_a_missing_record_anything_unexplained_that_fills_a_unit_is_beyond_the_scope()
    {
        var found = Of(received: 100m, onHand: 83m, openUnits: 0);

        Assert.Equal((2m, 0m, 2m), (found.Balance.UnexplainedMost, found.CapacityMost, found.BeyondMost));
        Assert.Contains("no unit has a missing record that the lot could have filled", Assert.Single(found.Warnings()).Detail, StringComparison.Ordinal);
        Assert.Empty(Of(received: 100m, onHand: 83.5m, openUnits: 0).Warnings());
    }

    [Fact]
    public void The_least_of_the_released_routings_comes_before_that_of_the_records()
    {
        var found = Of(received: 100m, onHand: 73m, openUnits: 0, least: Some.Quantity(500m, "mg"));

        Assert.Equal((0.5m, true, 24L, 6L), (found.LeastPerUnit, found.IsByRouting, found.UnitsMost, found.UnitsTypical));
    }

    [Fact]
    public void What_may_have_been_used_makes_it_up_to()
    {
        var works = new LotWorks().Received("L", 0, grams: 100m);
        works.Tell(5, new StockCounted(LotWorks.Key("L"), null, Some.Quantity(73m, "g"), null, null, null) { OccurredAt = default });
        var balance = LotBalance.Of(works.Lot("L"), [], [new(Some.Quantity(15m, "g"), IsUnsure: false, 1), new(Some.Quantity(12m, "g"), IsUnsure: true, 1)], null);
        var found = new LotReconciliation(LotWorks.Key("L"), balance, LotUsePerUnit.Of(Takes, "g"), Counts(openUnits: 1));

        Assert.Equal((0m, 8m), (found.BeyondLeast, found.BeyondMost));
        Assert.StartsWith("Up to 12 g", Assert.Single(found.Warnings()).Detail, StringComparison.Ordinal);
    }

    [Fact]
    public void What_can_t_be_told_is_said_with_its_reason()
    {
        var works = new LotWorks().Received("L", 0, grams: 100m);
        var balance = LotBalance.Of(works.Lot("L"), [], [new(null, IsUnsure: false, 3)], null);
        var found = new LotReconciliation(
            LotWorks.Key("L"), balance, null, new(IsReceived: false, IsLotUnreadable: false, UnreadableUnits: 2, UsesWithoutQuantity: 3, Proven: 3, Possible: 0, OpenUnits: 1));

        Assert.Equal((null, null, null, null), (found.UnitsMost, found.UnitsTypical, found.CapacityMost, found.BeyondMost));
        Assert.Equal(
            [LotReconciliation.NeverReceived, LotReconciliation.Unreadable, LotReconciliation.WithoutQuantity, LotReconciliation.NotBalanced],
            found.Warnings().Select(w => w.Code));
        Assert.Contains("was never counted", found.Warnings()[^1].Detail, StringComparison.Ordinal);
    }

    [Fact]
    public void More_that_left_than_came_in_is_a_contradiction()
    {
        var found = Of(received: 10m, onHand: 0m, openUnits: 2);

        Assert.Equal((-5m, 0L), (found.Balance.UnexplainedMost, found.UnitsMost));
        Assert.Equal(LotReconciliation.Overdrawn, Assert.Single(found.Warnings()).Code);
    }

    // 15 g were used; what units take is told apart from that.
    private static LotReconciliation Of(decimal received, decimal onHand, int openUnits, EnteredQuantity? least = null)
    {
        var works = new LotWorks().Received("L", 0, grams: received);
        works.Tell(5, new StockCounted(LotWorks.Key("L"), null, Some.Quantity(onHand, "g"), null, null, null) { OccurredAt = default });
        var balance = LotBalance.Of(works.Lot("L"), [], [new(Some.Quantity(15m, "g"), IsUnsure: false, 1)], least);
        return new(LotWorks.Key("L"), balance, LotUsePerUnit.Of(Takes, "g"), Counts(openUnits));
    }

    private static LotScopeCounts Counts(int openUnits) =>
        new(IsReceived: true, IsLotUnreadable: false, UnreadableUnits: 0, UsesWithoutQuantity: 0, Proven: 6, Possible: openUnits, openUnits);
}
