using System.Text.Json;

namespace Traceability.Simulator.Truth;

/// <summary>Whether a mix was still within its pot life when it was used, and whether it was mixed as its item declares.</summary>
/// <remarks>
/// From the page on mixes: what is used up is never told in favour of a longer life. Exceeded is where the least that can be used up is above
/// the whole life, kept where the most is at most that, undetermined between. In the demo one lot is one mix, used under its own number.
/// </remarks>
internal sealed class LifeReader(FactBook book, FindingBag bag)
{
    private const double Whole = 1 + 1e-9;

    /// <summary>What is wrong with the mixes that a use names.</summary>
    public void Read(Tried attempt, string rule, JsonElement? policy, string item, string[] lots)
    {
        if (book.About("item", item, "item-defined").LastOrDefault()?.Body is not { } definition || Json.Member(definition, "mix") is not { } mix)
        {
            return;
        }

        var mixings = lots.Select(l => book.OfLot($"{item}/{l}").FirstOrDefault(f => f.Type == "lot-mixed")).ToList();
        if (lots.Length == 1 && mixings[0] is { } mixing)
        {
            Fault(mix, Json.List(mixing.Body, "parts")).ForEach(kind => bag.Add(attempt, kind, rule, policy));
        }

        // Of several one was used: what is not wrong with each of them is not known to be wrong.
        var lives = mixings.Select(m => m is null ? "pot-life-undetermined" : Life(definition, m, attempt.Fact)).ToList();
        if (lives.TrueForAll(l => l is not null))
        {
            bag.Add(attempt, lives.Contains("pot-life-undetermined") ? "pot-life-undetermined" : "pot-life-exceeded", rule, policy);
        }
    }

    private static List<string> Fault(JsonElement mix, JsonElement[] taken)
    {
        var declared = Json.List(mix, "parts");
        var items = declared.Select(p => Json.Text(p, "item")!).ToList();
        var given = taken.Select(t => Json.Lot(t)!.Split('/')[0]).ToList();
        if (given.Except(items, StringComparer.Ordinal).Any() || items.Except(given, StringComparer.Ordinal).Any())
        {
            return ["mix-part-wrong"];
        }

        if (taken.Any(t => Json.Member(t, "quantity") is null))
        {
            return ["mix-ratio-not-recorded"];
        }

        decimal Taken(int i) => taken.Where((_, t) => given[t] == items[i]).Sum(t => Units.Convert(Json.Member(t, "quantity")!.Value, UnitOf(i)));
        string UnitOf(int i) => Json.Text(Json.Member(declared[i], "amount")!.Value, "unit")!;
        decimal Amount(int i) => Json.Number(Json.Member(declared[i], "amount")!.Value, "value")!.Value;
        var tolerance = Json.Number(mix, "tolerance")!.Value;
        return Enumerable.Range(1, declared.Length - 1).Any(i => Math.Abs((Taken(i) / Taken(0) / (Amount(i) / Amount(0))) - 1m) > tolerance) ? ["mix-ratio-out-of-limits"] : [];
    }

    private string? Life(JsonElement definition, SeenFact mixed, SeenFact used)
    {
        var life = Json.Duration(definition, "potLife")!.Value;
        var doubt = mixed.Uncertainty + used.Uncertainty;
        var table = Json.Member(definition, "potLifeByTemperature");
        var place = table is { } t ? Json.Text(t, "place") ?? mixed.Station : null;
        if (table is null || place is null
            || Warmth.Of(book, place, Rows(table.Value), Json.Duration(table.Value, "readingGapMax")!.Value, mixed.At, mixed.Uncertainty, used.At + used.Uncertainty) is not { } warmth)
        {
            var elapsed = used.At - mixed.At;
            return elapsed - doubt > life ? "pot-life-exceeded" : elapsed + doubt > life || elapsed + doubt < TimeSpan.Zero ? "pot-life-undetermined" : null;
        }

        // Colder than the table: perhaps not at all, perhaps as fast as at its coldest row. Without a reading: as fast as at the hottest.
        var (from, to) = (mixed.At - mixed.Uncertainty, used.At + used.Uncertainty);
        return warmth.Dose(mixed.At + mixed.Uncertainty, used.At - used.Uncertainty, unknownAsHottest: false, colderAsColdest: false) > Whole ? "pot-life-exceeded"
            : to < from || warmth.IsHotter(from, to) || warmth.Dose(from, to, unknownAsHottest: true, colderAsColdest: true) > Whole ? "pot-life-undetermined"
            : null;
    }

    private static (double Kelvin, double Seconds)[] Rows(JsonElement table) =>
        [.. Json.List(table, "rows").Select(r => ((double)Units.Convert(r.GetProperty("temperature"), "K"), Json.Duration(r, "time")!.Value.TotalSeconds)).OrderBy(r => r.Item1)];
}
