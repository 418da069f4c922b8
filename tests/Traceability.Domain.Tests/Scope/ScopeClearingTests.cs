using System.Collections.Immutable;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Scope;

/// <summary>Of which questions it is told what clears a unit, and what does where several lots are suspected.</summary>
public sealed class ScopeClearingTests
{
    private static readonly LotKey L77 = Some.Lot("ADH-1", "L77");
    private static readonly LotKey L78 = Some.Lot("ADH-1", "L78");
    private static readonly LotKey L79 = Some.Lot("ADH-1", "L79");
    private static readonly LotKey TapeLot = Some.Lot("TAPE-1", "T5");
    private static readonly UseFilter InPart = new(Some.At(0), Some.At(10), null, null);

    /// <summary>A question, and of how many lots a record clears.</summary>
    public static TheoryData<Suspect, int?> Questions => new()
    {
        { new SuspectLot(L77), 1 },
        { new SuspectContainer(L77, ContainerNumber.Parse("T3")), 1 },
        { new SuspectSupplierLot("S-1", null), 2 },
        { new SuspectAny([new SuspectLot(TapeLot), new SuspectSupplierLot("S-1", null)]), 3 },
        { new SuspectLot(L77) { Filter = InPart }, null },
        { new SuspectAny([new SuspectLot(L77), new SuspectLot(TapeLot) { Filter = InPart }]), null },
        { new SuspectAny([new SuspectLot(L77), new SuspectComponent(Some.Unit("CA-2", "1"))]), null },
        { new SuspectAll([new SuspectLot(L77), new SuspectLot(TapeLot)]), null },
        { new SuspectExcept(new SuspectLot(L77), new SuspectLot(TapeLot)), null },
        { new SuspectComponent(Some.Unit("CA-2", "1")), null },
    };

    [Theory]
    [MemberData(nameof(Questions))]
    public async Task What_clears_is_told_of_whole_lots_and_containers_one_or_any_of_several(Suspect suspect, int? rules) =>
        Assert.Equal(rules, (await SearchAsync(suspect, Unit("1", L77), Unit("2", TapeLot))).Clearing?.Length);

    [Fact]
    public async Task A_record_of_another_lot_clears_unless_that_one_is_suspected_too_and_a_unit_counts_once()
    {
        // The second was mended with another lot later, the fourth used nothing of the items, the fifth another lot of both.
        UnitJudgement[] units = [Unit("1", L77), Unit("2", L78, L79), Unit("3", L79, L79), Unit("4", Some.Lot("OIL-1", "O1")), Unit("5", L79, Some.Lot("TAPE-1", "T6"))];

        Assert.Equal(["CA-2/3", "CA-2/5"], await ClearedAsync(new SuspectSupplierLot("S-1", null), units));
        Assert.Equal(["CA-2/2", "CA-2/3", "CA-2/5"], await ClearedAsync(new SuspectLot(L77), units));
        Assert.Equal(["CA-2/3", "CA-2/5"], await ClearedAsync(new SuspectAny([new SuspectLot(L77), new SuspectLot(L78), new SuspectLot(TapeLot)]), units));
    }

    private static async Task<IEnumerable<string>> ClearedAsync(Suspect suspect, UnitJudgement[] units)
    {
        var found = await SearchAsync(suspect, units);
        string[] members = [.. found.Members.Select(m => m.Unit)];
        var cleared = await found.Genealogy.Source.ClearedAsync(found.Clearing!.Value, members, null, 10, default);
        Assert.Equal(cleared.Count, await found.Genealogy.Source.CountClearedAsync(found.Clearing.Value, members, default));
        return cleared.Select(c => c.Unit);
    }

    // L77 and L78 came in as the supplier's lot S-1.
    private static async Task<ScopeFound> SearchAsync(Suspect suspect, params UnitJudgement[] units) =>
        await ScopeSearch.RunAsync(
            suspect, new JudgementScopeSource(units), new(new[] { L77, L78, TapeLot }.ToDictionary(l => l, l => Family(l, l.Item == L77.Item ? "S-1" : "S-2"))), default);

    private static IReadOnlyDictionary<LotKey, Lot> Family(LotKey lot, string supplierLot) => ImmutableDictionary<LotKey, Lot>.Empty.Add(
        lot, Lot.Of(lot, [new RecordedFact(Some.Id(1), new LotReceived(lot, supplierLot, null, null, IsReleased: true, []) { OccurredAt = Some.At(0) }, Some.At(0))]));

    private static UnitJudgement Unit(string serial, params LotKey[] lots) => new(
        Some.Unit("CA-2", serial),
        new(null, [], null, Some.At(0), null, Place.InProcess, null, Some.At(0), null, null, null, false, false),
        [],
        [],
        [],
        [.. lots.Select((l, i) => new MaterialUsage(Some.Step("BOND"), Some.Id(i + 1), Some.Code("GLUE"), l, null, false, Some.At(5 + i), Some.At(6 + i), Some.Station))],
        [],
        []);
}
