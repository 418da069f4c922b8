using Traceability.Contracts.Definitions;
using Traceability.Contracts.Facts;
using Traceability.Contracts.Lots;
using Traceability.Domain.Facts;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Service.Storage;
using Counted = Traceability.Domain.Lots.StockCounted;
using Emptied = Traceability.Domain.Lots.ContainerEmptied;
using Inspected = Traceability.Domain.Lots.LotInspected;
using Opened = Traceability.Domain.Lots.ContainerOpened;

namespace Traceability.Service.Features.Lots;

/// <summary>Turns lots into what is answered.</summary>
internal static class LotViews
{
    /// <summary>A lot that is known.</summary>
    /// <param name="lot">The lot.</param>
    /// <param name="lots">The lots that it was made of, at any depth.</param>
    /// <param name="needsInspection">Whether its item asks for an inspection.</param>
    /// <param name="now">The moment of asking.</param>
    public static LotView Of(Lot lot, IReadOnlyDictionary<LotKey, Lot> lots, bool needsInspection, DateTimeOffset now)
    {
        var judge = new LotJudge(lots.GetValueOrDefault);
        var received = lot.Received;
        return new(
            lot.Key.Item.Value,
            lot.Key.Lot.Value,
            received?.SupplierLot,
            Quantity(received?.Quantity),
            lot.Origin!.At,
            judge.ExpiryAt(lot, now),
            judge.IsReleasedAt(lot, now) && (!needsInspection || judge.InspectionAt(lot, now) == LotInspection.Accepted),
            Containers(lot))
        {
            Supplier = received?.Supplier,
            State = EnumNames<LotState>.Of(judge.StateAt(lot, needsInspection, now)),
            Inspections = [.. lot.Standing().Where(f => f.Fact is Inspected).Select(f => Inspection(f, (Inspected)f.Fact))],
            Expiries = [.. lot.Standing().Select(f => Expiry(f, lots, judge)).OfType<LotExpiryView>()],
            Counts = [.. lot.Standing().Where(f => f.Fact is Counted).Select(f => Count(f, (Counted)f.Fact))],
            MadeOf = [.. lot.Sources().Select(s => s.ToString())],
        };
    }

    /// <summary>The lineage of a lot.</summary>
    public static LotLineageView Of(LotKey key, LotLineage lineage) =>
        new(key.Item.Value, key.Lot.Value, [.. lineage.Sources.Select(Link)], [.. lineage.Derived.Select(Link)]);

    private static LotLinkView Link(LotLink link) => new(
        Ref(link.From), Ref(link.Into), link.IsSplit ? "split" : link.IsMix ? "mixed" : "merged", link.At, Quantity(link.Quantity), link.Container?.Value, link.Record);

    private static List<ContainerView> Containers(Lot lot)
    {
        var emptied = lot.Standing().Where(f => f.Fact is Emptied).ToLookup(f => ((Emptied)f.Fact).Container);
        return
        [
            .. lot.Standing()
                .Where(f => f.Fact is Opened)
                .Select(f => (f.At, Fact: (Opened)f.Fact))
                .DistinctBy(c => c.Fact.Container)
                .Select(c => new ContainerView(c.Fact.Container.Value, c.At, emptied[c.Fact.Container].FirstOrDefault()?.At)
                {
                    Quantity = Quantity(c.Fact.Quantity),
                    Discarded = Quantity((emptied[c.Fact.Container].FirstOrDefault()?.Fact as Emptied)?.Discarded),
                }),
        ];
    }

    private static LotInspectionView Inspection(EffectiveFact fact, Inspected i) => new(
        fact.Id,
        fact.At,
        i.Accepted,
        i.SampleCount,
        [.. i.Results.Select(r => new Contracts.Facts.LotInspectionResult { Characteristic = r.Characteristic.Value, Passed = r.Passed, Value = Quantity(r.Value) })],
        i.Certificate,
        i.Note);

    private static LotExpiryView? Expiry(EffectiveFact fact, IReadOnlyDictionary<LotKey, Lot> lots, LotJudge judge) => fact.Fact switch
    {
        Domain.Lots.LotReceived { ExpiresAt: { } at } => new(fact.Id, fact.At, "received", at, null, null),
        Domain.Lots.LotExpirySet set => new(fact.Id, fact.At, "set", set.ExpiresAt, set.Reason, null),
        Domain.Lots.LotRecertified r => new(fact.Id, fact.At, "recertified", r.ExpiresAt, r.Evidence, r.AuthorisedBy.Value),
        ILotInflow inflow => new(
            fact.Id,
            fact.At,
            "taken-over",
            inflow.Sources.Select(s => lots.GetValueOrDefault(s.Lot)).OfType<Lot>().Select(l => judge.ExpiryAt(l, fact.At)).Where(e => e is not null).Min(),
            null,
            null),
        _ => null,
    };

    private static StockCountView Count(EffectiveFact fact, Counted c) =>
        new(fact.Id, fact.At, c.Container?.Value, Quantity(c.Quantity)!, Quantity(c.Gain), Quantity(c.Loss), c.Reason);

    private static LotRef Ref(LotKey key) => new() { Item = key.Item.Value, Lot = key.Lot.Value };

    private static QuantityValue? Quantity(EnteredQuantity? quantity) => quantity is { } q ? new() { Value = q.Value, Unit = q.Unit } : null;
}
