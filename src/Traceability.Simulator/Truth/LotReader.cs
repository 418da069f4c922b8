using System.Text.Json;

namespace Traceability.Simulator.Truth;

/// <summary>What the facts about lots say at a time: released, inspected, until when; and what of a lot nobody can account for.</summary>
/// <remarks>In the demo a lot is made of others once, at its beginning, and nothing bad is said of those others later.</remarks>
internal sealed class LotReader(FactBook book)
{
    public bool IsKnown(string lot) => book.OfLot(lot).Any(f => f.Type is "lot-received" or "lot-split" or "lot-merged" or "lot-mixed");

    /// <summary>What a lot was made of, with when.</summary>
    public IEnumerable<(string Lot, JsonElement Source, SeenFact By)> SourcesOf(string lot) => book.OfLot(lot)
        .Where(f => f.Type is "lot-split" or "lot-merged" or "lot-mixed")
        .SelectMany(f => (f.Type switch { "lot-split" => [f.Body.GetProperty("source")], "lot-merged" => Json.List(f.Body, "sources"), _ => Json.List(f.Body, "parts") })
            .Select(s => (Json.Lot(s)!, s, f)));

    /// <summary>Whether it was mixed of others, so that every draw of it holds each of them.</summary>
    public bool IsMix(string lot) => book.OfLot(lot).Any(f => f.Type == "lot-mixed");

    public bool IsReleased(string lot, DateTimeOffset at)
    {
        var released = false;
        foreach (var fact in book.OfLot(lot).Where(f => f.At <= at))
        {
            released = fact.Type switch
            {
                "lot-received" => Json.Flag(fact.Body, "isReleased"),
                "lot-released" => true,
                "lot-quarantined" => false,
                "lot-inspected" => released && Json.Flag(fact.Body, "accepted"),
                "lot-split" or "lot-merged" or "lot-mixed" => SourcesOf(lot).All(s => IsReleased(s.Lot, fact.At)),
                _ => released,
            };
        }

        return released;
    }

    public bool IsInspected(string lot, DateTimeOffset at) => SourcesOf(lot).Any()
        ? SourcesOf(lot).All(s => IsInspected(s.Lot, at))
        : book.OfLot(lot).LastOrDefault(f => f.Type == "lot-inspected" && f.At <= at) is { } last && Json.Flag(last.Body, "accepted");

    /// <summary>Whether an inspection that its item, or the item of a part of a mix, asks for is missing.</summary>
    public bool LacksInspection(string lot, DateTimeOffset at)
    {
        bool Asks(string of) => book.About("item", of.Split('/')[0], "item-defined").Select(i => Json.Flag(i.Body, "needsInspection")).LastOrDefault();
        return (Asks(lot) && !IsInspected(lot, at)) || (IsMix(lot) && SourcesOf(lot).Any(s => Asks(s.Lot) && !IsInspected(s.Lot, at)));
    }

    /// <summary>An expiry that was set holds for the lot's whole life, a re-certification from when it happened on; what was said last counts.</summary>
    public DateTimeOffset? ExpiryAt(string lot, DateTimeOffset at)
    {
        var facts = book.OfLot(lot);
        var expiry = SourcesOf(lot).Any()
            ? SourcesOf(lot).Select(s => ExpiryAt(s.Lot, s.By.At)).Where(e => e is not null).DefaultIfEmpty(null).Min()
            : facts.Where(f => f.Type == "lot-received").Select(f => Json.Time(f.Body, "expiresAt")).LastOrDefault();
        foreach (var fact in facts)
        {
            if (fact.Type == "lot-expiry-set" || (fact.Type == "lot-recertified" && fact.At <= at))
            {
                expiry = Json.Time(fact.Body, "expiresAt");
            }
        }

        return expiry;
    }

    /// <summary>received + merged in + booked − split off − discarded − used − on hand, as of the last count of the whole lot or its end; null where there is neither.</summary>
    public BalanceAnswer? Balance(string lot, IEnumerable<UsageAnswer> uses)
    {
        var facts = book.OfLot(lot);
        if (facts.LastOrDefault(f => f.Type == "lot-emptied" || (f.Type == "stock-counted" && Json.Text(f.Body, "container") is null)) is not { } statement)
        {
            return null;
        }

        var asOf = statement.At;
        var quantities = facts.Where(f => f.Type == "lot-received").Select(f => Json.Member(f.Body, "quantity")).Concat(SourcesOf(lot).Select(s => Json.Member(s.Source, "quantity")));
        var unit = Json.Text(quantities.First(q => q is not null)!.Value, "unit")!;
        decimal? Sum(IEnumerable<JsonElement?> terms) => terms.Aggregate((decimal?)0m, (sum, q) => q is { } known ? sum + Units.Convert(known, unit) : null);

        // A use of which it isn't known whether it was of this lot, or before that moment, isn't sure.
        var before = uses.Where(u => u.Step.Length > 0 && $"{u.Item}/{u.Lot}" == lot && u.From <= asOf).ToList();
        decimal? Used(IEnumerable<UsageAnswer> which) => which.Aggregate((decimal?)0m, (sum, u) => u.Quantity is { } q ? sum + Units.Convert(q.Value, q.Unit, unit) : null);
        var least = Used(before.Where(u => !u.IsOneOf && u.To <= asOf));
        var most = least + Used(before.Where(u => u.IsOneOf || u.To > asOf));
        var received = Sum(facts.Where(f => f.Type == "lot-received").Select(f => Json.Member(f.Body, "quantity")));
        var merged = Sum(SourcesOf(lot).Where(s => s.By.At <= asOf).Select(s => Json.Member(s.Source, "quantity")));
        var split = Sum(book.Lots.SelectMany(SourcesOf).Where(s => s.Lot == lot && s.By.At <= asOf).Select(s => Json.Member(s.Source, "quantity")));
        var discarded = Sum(facts.Where(f => f.At <= asOf && f.Type is "lot-emptied" or "container-emptied").Select(f => Json.Member(f.Body, "discarded")).Where(q => q is not null));
        decimal? Booked(string which) => Sum(facts.Where(f => f.At <= asOf && f.Type == "stock-counted").Select(f => Json.Member(f.Body, which)).Where(q => q is not null));
        var corrected = Booked("gain") - Booked("loss");
        var onHand = statement.Type == "lot-emptied" ? 0m : Sum([Json.Member(statement.Body, "quantity")]);
        var rest = received + merged + corrected - split - discarded - onHand;
        return new(asOf, received, merged, corrected, split, discarded, least, most, onHand, rest - most, rest - least);
    }
}
