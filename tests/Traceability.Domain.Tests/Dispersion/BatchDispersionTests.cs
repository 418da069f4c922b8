using CsCheck;
using Traceability.Domain.Dispersion;
using Xunit;

namespace Traceability.Domain.Tests.Dispersion;

/// <summary>
/// Counted by hand, after the definitions of C. Dupuy, V. Botta-Genoulaz, A. Guinet, "Batch dispersion model to optimise traceability in
/// food industry", Journal of Food Engineering 70 (2005), from memory: dispersion is the number of links between lots and finished lots.
/// </summary>
public sealed class BatchDispersionTests
{
    [Fact]
    public void Links_are_counted_and_compared_with_lots_used_up_one_after_another()
    {
        // L1 in A, B, C; L2 in A, B, C; L3 in C, D: 8 links. Three lots and four units one after another: 3 + 4 − 1 = 6 at most.
        var found = BatchDispersion.Of(Links("L1:ABC", "L2:ABC", "L3:CD"));

        Assert.Equal(new(Lots: 3, FinishedUnits: 4, Links: 8, LotsPerUnitMost: 3), found);
        Assert.Equal((4L, 6L, 2L), (found.LinksLeast, found.LinksOneAfterAnother, found.LinksByMixing));
        Assert.Equal((8.0 / 3, 2.0), (found.UnitsPerLot, found.LotsPerUnit));
        Assert.Contains("mixing added 2.", found.Words(), StringComparison.Ordinal);
    }

    [Fact]
    public void Nothing_is_divided_by_nothing()
    {
        var none = BatchDispersion.Of([]);

        Assert.Equal((null, null, 0L, 0L), (none.UnitsPerLot, none.LotsPerUnit, none.LinksOneAfterAnother, none.LinksByMixing));
        Assert.Equal("No finished unit carries a lot of this item by record.", none.Words());
    }

    [Fact]
    public void A_lot_of_its_own_for_each_unit_mixes_nothing() =>
        Assert.Equal((2L, 0L), (BatchDispersion.Of(Links("L1:A", "L2:B")).LinksLeast, BatchDispersion.Of(Links("L1:A", "L2:B")).LinksByMixing));

    [Fact]
    public void The_sum_over_lots_is_the_sum_over_units_and_no_fewer_than_the_least() =>
        Gen.Select(Gen.Int[0, 5], Gen.Int[0, 5]).Array[0, 25].Sample(pairs =>
        {
            LotLink[] links = [.. pairs.Select(p => new LotLink($"L{p.Item1}", $"U{p.Item2}"))];
            var found = BatchDispersion.Of(links);
            var distinct = links.ToHashSet();
            Assert.Equal(found.Links, Enumerable.Range(0, 6).Sum(l => Enumerable.Range(0, 6).Count(u => distinct.Contains(new($"L{l}", $"U{u}")))));
            Assert.True(found.Links >= found.LinksLeast);
            Assert.True(found.Links <= found.Lots * found.FinishedUnits);
        });

    // Whatever lots hold and units take: each lot is a stretch of what is used, each unit another, and a link is where two of them meet.
    [Fact]
    public void Lots_used_up_one_after_another_make_no_more_links_than_is_said_and_mix_nothing() =>
        Gen.Select(Gen.Int[1, 4].Array[1, 6], Gen.Int[1, 4].Array[1, 8]).Sample((lots, units) =>
        {
            var stuff = lots.SelectMany((size, l) => Enumerable.Repeat(l, size)).ToArray();
            var takers = units.SelectMany((size, u) => Enumerable.Repeat(u, size)).ToArray();
            var found = BatchDispersion.Of(stuff.Zip(takers, (l, u) => new LotLink($"L{l}", $"U{u}")));
            Assert.Equal(0, found.LinksByMixing);
            Assert.InRange(found.Links, found.LinksLeast, found.LinksOneAfterAnother);
        });

    private static IEnumerable<LotLink> Links(params string[] lots) =>
        lots.Select(l => l.Split(':')).SelectMany(l => l[1].Select(u => new LotLink(l[0], u.ToString())));
}
