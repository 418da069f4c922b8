using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Lots;

/// <summary>Decides whether a fact about a lot can be recorded.</summary>
/// <remarks>
/// What happened is recorded about every lot that is known, whatever its state. Two facts are decisions of people and need more:
/// a release, of an item that asks for inspection, that an inspection has accepted the lot; a re-certification, that it extends.
/// </remarks>
public static class LotDecisions
{
    /// <summary>The refusal, or null: record it.</summary>
    public static Refusal? Check(ILotFact lot, Fact fact, IReferences references)
    {
        ArgumentNullException.ThrowIfNull(lot);
        ArgumentNullException.ThrowIfNull(references);
        var known = references.FindLot(lot.Lot);
        return fact switch
        {
            LotReceived or LotSplit or LotMixed when known?.Arrival is { } before =>
                Refusal.At("lot-already-received", RefusalKind.Contradiction, "/lot", $"Lot {lot.Lot} {Came(before)} before. A second delivery under the same number needs a lot number of its own; a mistake is corrected with record-corrected."),
            LotReceived => CheckItem(lot, references),
            LotMixed mixed => CheckItem(lot, references) ?? CheckMix(mixed, references) ?? CheckSources(mixed, references),
            ILotInflow inflow => CheckItem(lot, references) ?? CheckSources(inflow, references),
            _ when known is null => Unknown("lot-unknown", "/lot", $"Lot {lot.Lot}"),
            LotReleased => CheckRelease(known, fact.At, references),
            LotRecertified recertified => CheckRecertification(known, recertified, references),
            _ => null,
        };
    }

    private static string Came(EffectiveFact arrival) => arrival.Fact switch
    {
        LotSplit => "was split off another lot",
        LotMixed => "was mixed",
        _ => "was received",
    };

    private static Refusal? CheckItem(ILotFact lot, IReferences references) =>
        references.FindItem(lot.Lot.Item) is null ? Unknown("item-unknown", "/lot/item", $"Item {lot.Lot.Item}") : null;

    // What the parts should be is judged, and never refused; but of an item that isn't mixed nothing could be judged.
    private static Refusal? CheckMix(LotMixed mixed, IReferences references) =>
        references.FindItem(mixed.Lot.Item)?.Mix is not null ? null
            : Refusal.At("mix-not-declared", RefusalKind.Contradiction, "/lot/item", $"Item {mixed.Lot.Item} does not say what it is mixed of. Record item-defined with its mix first, or correct the item.");

    private static Refusal? CheckSources(ILotInflow inflow, IReferences references)
    {
        var sources = inflow.Sources;
        for (var i = 0; i < sources.Length; i++)
        {
            var pointer = inflow is LotSplit ? "/source/lot" : inflow is LotMixed ? $"/parts/{i}/lot" : $"/sources/{i}/lot";
            var source = sources[i].Lot;
            if (source == inflow.Lot)
            {
                return Refusal.At("lot-of-itself", RefusalKind.Contradiction, pointer, $"Lot {source} can't be made of itself. Name the lot that the material was taken out of.");
            }

            if (source.Item != inflow.Lot.Item && inflow is not LotMixed)
            {
                return Refusal.At("lot-of-other-item", RefusalKind.Contradiction, $"{pointer}/item", $"Lot {inflow.Lot} can be made of lots of {inflow.Lot.Item} only. What is mixed of other items is recorded as lot-mixed, and what is built of them as a unit with the material that it used.");
            }

            if (references.FindLot(source) is null)
            {
                return Unknown("lot-unknown", pointer, $"Lot {source}");
            }
        }

        return null;
    }

    private static Refusal? CheckRelease(Lot lot, DateTimeOffset at, IReferences references)
    {
        if (!references.NeedsInspection(lot.Key.Item))
        {
            return null;
        }

        return new LotJudge(references.FindLot).InspectionAt(lot, at) switch
        {
            LotInspection.Missing => Refusal.At("lot-not-inspected", RefusalKind.Contradiction, "/lot", $"Item {lot.Key.Item} asks for an inspection, and none of lot {lot.Key} is recorded by then. Record lot-inspected first."),
            LotInspection.Rejected => Rejected(lot),
            _ => null,
        };
    }

    private static Refusal? CheckRecertification(Lot lot, LotRecertified recertified, IReferences references)
    {
        var judge = new LotJudge(references.FindLot);
        if (judge.InspectionAt(lot, recertified.At) == LotInspection.Rejected)
        {
            return Rejected(lot);
        }

        var expiry = judge.ExpiryAt(lot, recertified.At);
        return recertified.ExpiresAt > recertified.At && (expiry is null || recertified.ExpiresAt > expiry)
            ? null
            : Refusal.At("expiry-not-extended", RefusalKind.Contradiction, "/expiresAt", $"A re-certification extends the shelf life, which ends {(expiry is { } end ? Say.Time(end) : "at no recorded time")}. To shorten it, record lot-expiry-set.");
    }

    private static Refusal Rejected(Lot lot) =>
        Refusal.At("lot-rejected", RefusalKind.Contradiction, "/lot", $"The last inspection rejected lot {lot.Key}. Record another lot-inspected that accepts it first, or leave it.");

    private static Refusal Unknown(string code, string pointer, string what) =>
        Refusal.At(code, RefusalKind.Unknown, pointer, $"{what} is not known. Define it first, or correct the name.");
}
