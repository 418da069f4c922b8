using Traceability.Domain.Facts;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Lots;

/// <summary>Every state of a lot whose item asks for inspection, against every fact that can be told of it.</summary>
public sealed class LotLifeTests
{
    private static readonly string[] States = ["unknown", "awaiting", "accepted", "released", "quarantined", "rejected", "emptied", "merged into"];

    // What becomes of it: the state after, or the code of the refusal.
    private static readonly (string Told, string[] Becomes)[] Table =
    [
        ("received", ["AwaitingInspection", .. Enumerable.Repeat("lot-already-received", 6), "AwaitingInspection"]),
        ("split off", ["Released", .. Enumerable.Repeat("lot-already-received", 6), "Released"]),
        ("merged into", ["Released", "AwaitingInspection", "Received", "Released", "Quarantined", "Rejected", "Released", "Released"]),
        ("mixed", ["mix-not-declared", .. Enumerable.Repeat("lot-already-received", 6), "mix-not-declared"]),
        ("released", ["lot-unknown", "lot-not-inspected", "Released", "Released", "Released", "lot-rejected", "Emptied", "Released"]),
        ("quarantined", ["lot-unknown", "Quarantined", "Quarantined", "Quarantined", "Quarantined", "Rejected", "Emptied", "Quarantined"]),
        ("accepted", ["lot-unknown", "Received", "Received", "Released", "Quarantined", "Received", "Emptied", "Released"]),
        ("rejected", ["lot-unknown", "Rejected", "Rejected", "Rejected", "Rejected", "Rejected", "Emptied", "Rejected"]),
        ("recertified", ["lot-unknown", "AwaitingInspection", "Received", "Released", "Quarantined", "lot-rejected", "Emptied", "expiry-not-extended"]),
        ("expiry set", ["lot-unknown", "AwaitingInspection", "Received", "Released", "Quarantined", "Rejected", "Emptied", "Released"]),
        ("moved", ["lot-unknown", "AwaitingInspection", "Received", "Released", "Quarantined", "Rejected", "Emptied", "Released"]),
        ("counted", ["lot-unknown", "AwaitingInspection", "Received", "Released", "Quarantined", "Rejected", "Emptied", "Released"]),
        ("container opened", ["lot-unknown", "AwaitingInspection", "Received", "Released", "Quarantined", "Rejected", "Emptied", "Released"]),
        ("container emptied", ["lot-unknown", "AwaitingInspection", "Received", "Released", "Quarantined", "Rejected", "Emptied", "Released"]),
        ("emptied", ["lot-unknown", "Emptied", "Emptied", "Emptied", "Emptied", "Emptied", "Emptied", "Emptied"]),
    ];

    public static TheoryData<string, string, string> Cells
    {
        get
        {
            var cells = new TheoryData<string, string, string>();
            foreach (var (told, becomes) in Table)
            {
                for (var s = 0; s < States.Length; s++)
                {
                    cells.Add(States[s], told, becomes[s]);
                }
            }

            return cells;
        }
    }

    [Theory]
    [MemberData(nameof(Cells))]
    public void Each_fact_in_each_state_is_recorded_or_refused_with_its_reason(string state, string told, string becomes)
    {
        var works = Given(state);
        var before = works.Lots.GetValueOrDefault(LotWorks.Key("L"))?.Effective.Length ?? 0;

        var refusal = works.Try(200, Told(told));

        Assert.Equal(becomes, refusal ?? works.StateAt("L", 200).ToString());
        Assert.Equal(before + (refusal is null ? 1 : 0), works.Lots.GetValueOrDefault(LotWorks.Key("L"))?.Effective.Length ?? 0);
    }

    [Fact]
    public void Every_type_of_fact_about_a_lot_is_in_the_table() =>
        Assert.Equal(
            typeof(ILotFact).Assembly.GetTypes().Where(t => t.IsAssignableTo(typeof(ILotFact)) && t.IsClass).ToHashSet(),
            Table.Select(t => Told(t.Told).GetType()).ToHashSet());

    [Fact]
    public void Without_inspection_asked_for_a_lot_is_released_by_a_release_alone_also_after_a_rejection()
    {
        var works = new LotWorks().Received("L", 0, isReleased: false);
        Assert.Equal(LotState.Received, works.StateAt("L", 1));
        Assert.Equal(LotState.Released, works.Released("L", 2).StateAt("L", 2));
        Assert.Equal(LotState.Rejected, works.Inspected("L", 3, accepted: false).StateAt("L", 3));
        Assert.Equal(LotState.Released, works.Released("L", 4).StateAt("L", 4));
    }

    [Theory]
    [InlineData("lot-of-itself", "L", "L")]
    [InlineData("lot-unknown", "L", "NONE")]
    public void A_lot_is_made_of_other_lots_that_are_known(string code, string lot, string source) =>
        Assert.Equal(code, new LotWorks().Received("L", 0).Try(1, new LotMerged(LotWorks.Key(lot), [LotWorks.Out(source)], []) { OccurredAt = default }));

    [Fact]
    public void A_lot_is_made_of_lots_of_its_own_item_only() =>
        Assert.Equal("lot-of-other-item", new LotWorks().Try(1, new LotSplit(LotWorks.Key("S"), new(Some.Lot("GREASE", "L"), null, null), []) { OccurredAt = default }));

    [Theory]
    [InlineData(499, "expiry-not-extended")]
    [InlineData(500, "expiry-not-extended")]
    [InlineData(501, null)]
    public void A_recertification_must_extend_the_shelf_life(double until, string? code) =>
        Assert.Equal(code, new LotWorks().Received("L", 0, expires: 500).Try(100, new LotRecertified(LotWorks.Key("L"), Some.At(until), "Report 17", Some.Quality) { OccurredAt = default }));

    [Fact]
    public void A_recertification_into_the_past_extends_nothing() =>
        Assert.Equal("expiry-not-extended", new LotWorks().Received("L", 0, expires: 50).Try(100, new LotRecertified(LotWorks.Key("L"), Some.At(100), "Report 17", Some.Quality) { OccurredAt = default }));

    private static LotWorks Given(string state)
    {
        var works = new LotWorks(needsInspection: true);
        works.Received("SOURCE", 0, 10_000).Inspected("SOURCE", 1);
        if (state == "unknown")
        {
            return works;
        }

        if (state == "merged into")
        {
            works.Tell(10, Told("merged into"));
            return works;
        }

        works.Received("L", 10, 1_000, isReleased: false);
        return state switch
        {
            "awaiting" => works,
            "accepted" => works.Inspected("L", 20),
            "rejected" => works.Inspected("L", 20, accepted: false),
            "released" => works.Inspected("L", 20).Released("L", 30),
            "quarantined" => works.Inspected("L", 20).Released("L", 30).Quarantined("L", 40),
            _ => Emptied(works.Inspected("L", 20).Released("L", 30)),
        };
    }

    private static LotWorks Emptied(LotWorks works)
    {
        works.Tell(40, Told("emptied"));
        return works;
    }

    private static Fact Told(string told)
    {
        var lot = LotWorks.Key("L");
        var tube = ContainerNumber.Parse("T1");
        return told switch
        {
            "received" => new LotReceived(lot, null, null, Some.At(1_000), IsReleased: true, []) { OccurredAt = default },
            "split off" => new LotSplit(lot, LotWorks.Out("SOURCE", 5m), []) { OccurredAt = default },
            "merged into" => new LotMerged(lot, [LotWorks.Out("SOURCE", 5m)], []) { OccurredAt = default },
            "mixed" => new LotMixed(lot, [LotWorks.Out("SOURCE", 5m), LotWorks.Out("OTHER", 5m)], []) { OccurredAt = default },
            "released" => new LotReleased(lot) { OccurredAt = default },
            "quarantined" => new LotQuarantined(lot, "doubt") { OccurredAt = default },
            "accepted" => LotWorks.Inspection("L", accepted: true),
            "rejected" => LotWorks.Inspection("L", accepted: false),
            "recertified" => new LotRecertified(lot, Some.At(2_000), "Report 17", Some.Quality) { OccurredAt = default },
            "expiry set" => new LotExpirySet(lot, Some.At(900), "misread") { OccurredAt = default },
            "moved" => new LotMoved(lot, [Some.Station]) { OccurredAt = default },
            "counted" => new StockCounted(lot, null, Some.Quantity(4m, "g"), null, null, null) { OccurredAt = default },
            "container opened" => new ContainerOpened(lot, tube, []) { OccurredAt = default },
            "container emptied" => new ContainerEmptied(lot, tube) { OccurredAt = default },
            "emptied" => new LotEmptied(lot) { OccurredAt = default },
            _ => throw new ArgumentOutOfRangeException(nameof(told), told, "No such fact."),
        };
    }
}
