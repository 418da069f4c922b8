using Traceability.Domain.Facts;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;
using Traceability.Domain.Tests.Lots;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Scope;

public sealed class LotCarrierTests
{
    private static readonly ContainerNumber Tube = ContainerNumber.Parse("T1");

    [Theory]
    [InlineData(0, 19, ScopeVerdict.Proven)]
    [InlineData(0, 20, ScopeVerdict.Possible)]
    [InlineData(20, 30, ScopeVerdict.Possible)]
    public void A_sublot_is_the_suspect_until_other_material_goes_in(double from, double to, ScopeVerdict share) =>
        Assert.Equal(share, Carrier(new LotWorks().Received("L", 0).Received("X", 0).Split("S", 10, LotWorks.Out("L")).Merged("S", 20, LotWorks.Out("X"))).Share(Some.At(from), Some.At(to)));

    [Theory]
    [InlineData(0, 9, null)]
    [InlineData(0, 10, ScopeVerdict.Possible)]
    [InlineData(10, 11, ScopeVerdict.Possible)]
    public void A_received_lot_that_the_suspect_went_into_may_hold_it_from_then_on(double from, double to, ScopeVerdict? share) =>
        Assert.Equal(share, Carrier(new LotWorks().Received("L", 0).Received("S", 0).Merged("S", 10, LotWorks.Out("L"))).Share(Some.At(from), Some.At(to)));

    [Theory]
    [InlineData(15, ScopeVerdict.Proven)]
    [InlineData(20, ScopeVerdict.Possible)]
    [InlineData(25, ScopeVerdict.Possible)]
    public void What_is_split_off_later_is_mixed_if_its_source_was(double splitAt, ScopeVerdict share)
    {
        var works = new LotWorks().Received("L", 0).Received("X", 0).Split("M", 10, LotWorks.Out("L"));
        if (splitAt < 20)
        {
            works.Split("S", splitAt, LotWorks.Out("M"));
        }

        works.Merged("M", 20, LotWorks.Out("X"));
        if (splitAt >= 20)
        {
            works.Split("S", splitAt, LotWorks.Out("M"));
        }

        Assert.Equal(share, Carrier(works).Share(Some.At(30), Some.At(30)));
    }

    [Fact]
    public void The_uncertainty_of_a_clock_widens_when_material_may_have_gone_in()
    {
        var works = new LotWorks().Received("L", 0).Received("S", 0);
        works.Store("lot/ADH/S", new LotMerged(LotWorks.Key("S"), [LotWorks.Out("L")], []) { OccurredAt = Some.At(10), Clock = new(TimeSpan.Zero, TimeSpan.FromMinutes(3), Doubtful: false) });
        Assert.Equal(Some.At(7), Carrier(works).CarriesFrom);
    }

    [Theory]
    [InlineData("T1", ScopeVerdict.Proven)]
    [InlineData(null, ScopeVerdict.Possible)]
    [InlineData("T2", null)]
    public void Of_a_container_only_what_was_taken_out_of_it_carries(string? container, ScopeVerdict? share)
    {
        var works = new LotWorks().Received("L", 0).Split("S", 10, LotWorks.Out("L", container: container));
        Assert.Equal(share, LotCarrier.Of(new SuspectContainer(LotWorks.Key("L"), Tube), works.Lots).SingleOrDefault()?.Share(Some.At(20), Some.At(20)));
    }

    [Fact]
    public void A_void_split_carries_nothing_and_a_lot_that_cant_be_read_may_carry_always()
    {
        var works = new LotWorks().Received("L", 0);
        var split = works.Tell(10, new LotSplit(LotWorks.Key("S"), LotWorks.Out("L"), []) { OccurredAt = default });
        works.Store("lot/ADH/S", new RecordVoided(split, "another lot", Some.Quality) { OccurredAt = Some.At(20) });
        Assert.Empty(LotCarrier.Of(new SuspectLot(LotWorks.Key("L")), works.Lots));
        works.Store("lot/ADH/S", new UnreadableFact("lot_gone", "unknown name") { OccurredAt = Some.At(20) });
        Assert.Equal(ScopeVerdict.Possible, Carrier(works).Share(Some.At(-90), Some.At(-80)));
    }

    [Fact]
    public void Every_draw_of_a_mix_holds_every_part()
    {
        var works = new LotWorks().Received("L", 0).Received("X", 0);
        works.Store("lot/ADH/S", Mixed("S", 10, "L", "X"));
        Assert.Equal(ScopeVerdict.Proven, Carrier(works).Share(Some.At(0), Some.At(90)));
        Assert.Equal(ScopeVerdict.Proven, LotCarrier.Of(new SuspectLot(LotWorks.Key("X")), works.Lots).Single().Share(Some.At(20), Some.At(20)));
    }

    [Fact]
    public void A_mix_of_what_only_may_hold_the_suspect_only_may_hold_it()
    {
        var works = new LotWorks().Received("L", 0).Received("X", 0).Received("Y", 0).Merged("M", 10, LotWorks.Out("L"), LotWorks.Out("X"));
        works.Store("lot/ADH/S", Mixed("S", 20, "M", "Y"));
        Assert.Equal(ScopeVerdict.Possible, Carrier(works).Share(Some.At(30), Some.At(30)));
    }

    [Fact]
    public void What_is_merged_with_a_mix_of_the_suspect_is_possible_and_mixed_with_it_is_proven()
    {
        LotWorks Works()
        {
            var works = new LotWorks().Received("L", 0).Received("X", 0).Received("Y", 0);
            works.Store("lot/ADH/M", Mixed("M", 10, "L", "X"));
            return works;
        }

        Assert.Equal(ScopeVerdict.Possible, Carrier(Works().Merged("S", 20, LotWorks.Out("M"), LotWorks.Out("Y"))).Share(Some.At(30), Some.At(30)));
        Assert.Equal(ScopeVerdict.Proven, Carrier(Works().Split("S", 20, LotWorks.Out("M"))).Share(Some.At(30), Some.At(30)));
        var again = Works();
        again.Store("lot/ADH/S", Mixed("S", 20, "M", "Y"));
        Assert.Equal(ScopeVerdict.Proven, Carrier(again).Share(Some.At(30), Some.At(30)));
    }

    [Theory]
    [InlineData("T1", ScopeVerdict.Proven)]
    [InlineData(null, ScopeVerdict.Possible)]
    [InlineData("T2", null)]
    public void Of_a_container_only_a_mix_of_it_carries(string? container, ScopeVerdict? share)
    {
        var works = new LotWorks().Received("L", 0).Received("X", 0);
        works.Store("lot/ADH/S", new LotMixed(LotWorks.Key("S"), [LotWorks.Out("L", container: container), LotWorks.Out("X")], []) { OccurredAt = Some.At(10) });
        Assert.Equal(share, LotCarrier.Of(new SuspectContainer(LotWorks.Key("L"), Tube), works.Lots).SingleOrDefault()?.Share(Some.At(20), Some.At(20)));
    }

    [Fact]
    public void Lots_that_run_in_a_circle_end()
    {
        var works = new LotWorks().Received("L", 0).Split("S", 10, LotWorks.Out("L")).Merged("M", 20, LotWorks.Out("S")).Merged("S", 30, LotWorks.Out("M")).Merged("L", 40, LotWorks.Out("M"));
        Assert.All(LotCarrier.Of(new SuspectLot(LotWorks.Key("L")), works.Lots), c => Assert.Equal(ScopeVerdict.Proven, c.Share(Some.At(50), Some.At(50))));
        Assert.Equal(2, LotCarrier.Of(new SuspectLot(LotWorks.Key("L")), works.Lots).Length);
    }

    [Fact]
    public void A_missing_lot_may_be_a_sublot_where_and_when_that_could_have_been_used()
    {
        var works = new LotWorks().Received("L", 0);
        works.Tell(5, new LotEmptied(LotWorks.Key("L")) { OccurredAt = default });
        works.Tell(3, new LotSplit(LotWorks.Key("S"), LotWorks.Out("L"), [Some.Station]) { OccurredAt = default });
        var presence = Carrier(works).Presence;
        Assert.True(presence.CouldBeUsed(Some.At(10), Some.At(10), "ST-1"));
        Assert.False(presence.CouldBeUsed(Some.At(10), Some.At(10), "ST-2"));
        Assert.False(presence.CouldBeUsed(Some.At(1), Some.At(2), "ST-1"));
    }

    private static LotMixed Mixed(string lot, double at, params string[] parts) =>
        new(LotWorks.Key(lot), [.. parts.Select(p => LotWorks.Out(p))], []) { OccurredAt = Some.At(at) };

    private static LotCarrier Carrier(LotWorks works) => LotCarrier.Of(new SuspectLot(LotWorks.Key("L")), works.Lots).Single(c => c.Lot == LotWorks.Key("S"));
}
