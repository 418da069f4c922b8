using Traceability.Domain.Facts;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Domain.Routings;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Lots;

/// <summary>Worked by hand from the definition: received + merged in + corrected − split off − discarded − used − on hand.</summary>
public sealed class LotBalanceTests
{
    [Fact]
    public void A_lot_in_kilograms_used_in_grams_and_milligrams_is_reconciled()
    {
        // 1000 + 100 + (5 − 10) − 200 − 14.5 − (30 × 2.5 + 500 mg) − 750 = 55 g, which is 22 units at 2.5 g and the rest of one.
        var works = new LotWorks().Received("B", 0, grams: 300m);
        works.Tell(1, Received("L", Some.Quantity(1m, "kg")));
        works.Merged("L", 2, LotWorks.Out("B", 100m));
        works.Tell(3, new ContainerEmptied(LotWorks.Key("L"), ContainerNumber.Parse("T1")) { OccurredAt = default, Discarded = Some.Quantity(14_500m, "mg") });
        works.Tell(4, new StockCounted(LotWorks.Key("L"), null, Some.Quantity(0.75m, "kg"), Some.Quantity(5m, "g"), Some.Quantity(10m, "g"), "spilt, and found behind the shelf") { OccurredAt = default });
        var balance = LotBalance.Of(
            works.Lot("L"),
            [new(LotWorks.Key("S"), Some.At(2), Some.Quantity(200m, "g"))],
            [new(Some.Quantity(2.5m, "g"), IsUnsure: false, 30), new(Some.Quantity(500m, "mg"), IsUnsure: false, 1)],
            Some.Quantity(2.5m, "g"));

        Assert.Empty(balance.Obstacles);
        Assert.Equal("kg", balance.Unit);
        Assert.Equal((1m, 0.1m, -0.005m, 0.2m, 0.0145m, 0.0755m, 0.75m), (balance.Received, balance.MergedIn, balance.Corrected, balance.SplitOff, balance.Discarded, balance.UsedLeast, balance.OnHand));
        Assert.Equal((0.055m, 0.055m, 22L), (balance.UnexplainedLeast, balance.UnexplainedMost, balance.UnitsMost));
        Assert.Equal(Some.At(4), balance.AsOf);
    }

    [Fact]
    public void Pounds_are_converted_exactly()
    {
        // 1 lb = 453.59237 g exactly (NIST SP 811, B.8): 453.59237 − 400 − 45.359237 = 8.233133 g, two units at 4 g.
        var works = new LotWorks();
        works.Tell(0, Received("L", Some.Quantity(453.59237m, "g")));
        Count(works, 5, Some.Quantity(0.1m, "[lb_av]"));
        var balance = LotBalance.Of(works.Lot("L"), [], [new(Some.Quantity(4m, "g"), IsUnsure: false, 100)], Some.Quantity(4m, "g"));
        Assert.Equal((8.233133m, 2L), (balance.UnexplainedMost, balance.UnitsMost));
    }

    [Theory]
    [InlineData(7.99, 3)]
    [InlineData(8.00, 4)]
    [InlineData(8.01, 4)]
    public void As_many_units_as_the_unexplained_is_enough_for(double unexplained, long units)
    {
        var works = new LotWorks().Received("L", 0, grams: (decimal)unexplained);
        Count(works, 1, Some.Quantity(0m, "g"));
        Assert.Equal(units, LotBalance.Of(works.Lot("L"), [], [], Some.Quantity(2m, "g")).UnitsMost);
    }

    [Fact]
    public void What_may_have_been_used_makes_a_range()
    {
        var works = new LotWorks().Received("L", 0, grams: 100m);
        Count(works, 5, Some.Quantity(80m, "g"));
        var balance = LotBalance.Of(works.Lot("L"), [], [new(Some.Quantity(2m, "g"), IsUnsure: false, 5), new(Some.Quantity(2m, "g"), IsUnsure: true, 7)], null);
        Assert.Equal((10m, 24m, -4m, 10m), (balance.UsedLeast, balance.UsedMost, balance.UnexplainedLeast, balance.UnexplainedMost));
        Assert.Null(balance.UnitsMost);
    }

    [Fact]
    public void More_used_than_came_in_is_below_zero_and_no_unit()
    {
        var works = new LotWorks().Received("L", 0, grams: 10m);
        works.Tell(5, new LotEmptied(LotWorks.Key("L")) { OccurredAt = default });
        var balance = LotBalance.Of(works.Lot("L"), [], [new(Some.Quantity(4m, "g"), IsUnsure: false, 3)], Some.Quantity(4m, "g"));
        Assert.Equal((0m, -2m, 0L), (balance.OnHand, balance.UnexplainedMost, balance.UnitsMost));
    }

    [Fact]
    public void Only_what_was_before_the_last_count_of_the_whole_lot_counts()
    {
        var works = new LotWorks().Received("L", 0, grams: 100m);
        Count(works, 5, Some.Quantity(90m, "g"));
        var late = works.Tell(7, new StockCounted(LotWorks.Key("L"), null, Some.Quantity(40m, "g"), null, null, null) { OccurredAt = default });
        works.Tell(8, new StockCounted(LotWorks.Key("L"), ContainerNumber.Parse("T1"), Some.Quantity(1m, "g"), null, null, null) { OccurredAt = default });
        LotDraw[] draws = [new(LotWorks.Key("S"), Some.At(6), Some.Quantity(50m, "g")), new(LotWorks.Key("T"), Some.At(9), null)];
        Assert.Equal((Some.At(7), 10m), (LotBalance.MomentOf(works.Lot("L"))!.Value, LotBalance.Of(works.Lot("L"), draws, [], null).UnexplainedMost!.Value));

        works.Store("lot/ADH/L", new RecordVoided(late, "another shelf", Some.Quality) { OccurredAt = Some.At(10) });
        Assert.Equal((Some.At(5), 10m, 0m), (LotBalance.MomentOf(works.Lot("L"))!.Value, LotBalance.Of(works.Lot("L"), draws, [], null).UnexplainedMost!.Value, LotBalance.Of(works.Lot("L"), draws, [], null).SplitOff!.Value));
    }

    [Fact]
    public void What_is_missing_is_said_and_nothing_is_made_up()
    {
        var works = new LotWorks().Received("L", 0).Received("B", 0, grams: 1m).Merged("L", 1, LotWorks.Out("B"));
        var balance = LotBalance.Of(works.Lot("L"), [new(LotWorks.Key("S"), Some.At(2), null)], [new(null, IsUnsure: false, 3)], Some.Quantity(1m, "g"));
        Assert.Equal([null, null, null, null, null, null, null], new[] { balance.Received, balance.MergedIn, balance.SplitOff, balance.UsedLeast, balance.OnHand, balance.UnexplainedLeast, balance.UnexplainedMost });
        Assert.Equal(5, balance.Obstacles.Length);
        Assert.Contains(balance.Obstacles, o => o.Contains("3 uses of lot ADH/L say no quantity", StringComparison.Ordinal));
        Assert.Contains(balance.Obstacles, o => o.Contains("never counted", StringComparison.Ordinal));
        Assert.Null(balance.UnitsMost);
    }

    [Fact]
    public void Quantities_of_different_kinds_are_not_added()
    {
        var works = new LotWorks().Received("L", 0, grams: 10m);
        Count(works, 1, Some.Quantity(5m, "g"));
        var balance = LotBalance.Of(works.Lot("L"), [], [new(Some.Quantity(2m, "mL"), IsUnsure: false, 1)], null);
        Assert.Null(balance.UsedLeast);
        Assert.Contains("2 mL", Assert.Single(balance.Obstacles), StringComparison.Ordinal);
    }

    [Fact]
    public void Containers_counted_alone_say_nothing_of_the_whole_lot()
    {
        var works = new LotWorks().Received("L", 0, grams: 10m);
        works.Tell(1, new StockCounted(LotWorks.Key("L"), ContainerNumber.Parse("T1"), Some.Quantity(5m, "g"), null, null, null) { OccurredAt = default });
        var balance = LotBalance.Of(works.Lot("L"), [], [], null);
        Assert.Null(balance.OnHand);
        Assert.Contains("Only containers", Assert.Single(balance.Obstacles), StringComparison.Ordinal);
    }

    [Fact]
    public void The_least_that_a_unit_takes_is_that_of_the_least_requirement_in_any_unit_of_measure()
    {
        RoutingRevision Revision(params (string Item, decimal? Min, string Unit)[] materials)
        {
            var builder = new RoutingBuilder("LAMP").Step("BOND", s =>
            {
                foreach (var (item, min, unit) in materials)
                {
                    s.Material($"M{item}{min}{unit}", item, Tracing.Lot, [], min is { } m ? Some.Quantity(m, unit) : null, null);
                }
            });
            return builder.Build();
        }

        var adhesive = ItemNumber.Parse("ADH");
        Assert.Equal(Some.Quantity(300m, "mg"), LotBalance.LeastOf(adhesive, [Revision(("ADH", 0.5m, "g"), ("ADH", 300m, "mg"), ("GREASE", 1m, "mg"))]));
        Assert.Null(LotBalance.LeastOf(adhesive, [Revision(("ADH", 0.5m, "g"), ("ADH", null, "g"))]));
        Assert.Null(LotBalance.LeastOf(adhesive, [Revision(("ADH", 0.5m, "g"), ("ADH", 1m, "mL"))]));
        Assert.Null(LotBalance.LeastOf(adhesive, [Revision(("GREASE", 1m, "mg"))]));
    }

    private static LotReceived Received(string lot, EnteredQuantity quantity) => new(LotWorks.Key(lot), null, quantity, null, IsReleased: true, []) { OccurredAt = default };

    private static void Count(LotWorks works, double at, EnteredQuantity quantity) =>
        works.Tell(at, new StockCounted(LotWorks.Key("L"), null, quantity, null, null, null) { OccurredAt = default });
}
