using System.Text.Json;

namespace Traceability.Simulator.Truth;

/// <summary>Works out what has cured by temperature readings, second by second.</summary>
/// <remarks>
/// From the reference page on judgements: colder than the table earns nothing, hotter counts as the hottest row, and so does, at most, what no
/// reading tells.
/// </remarks>
internal sealed class CureReader(FactBook book, UnitPast past)
{
    private const double Whole = 1 - 1e-9;

    /// <summary>The finding on the minimum of an interval; null: it is kept.</summary>
    public string? Judge(JsonElement condition, Tried? starting, Moment start, Moment end)
    {
        if (Find(condition, starting, start, end.At + end.Uncertainty) is not { } cure)
        {
            var (elapsed, doubt) = (end.At - start.At, start.Uncertainty + end.Uncertainty);
            var fallback = Json.Duration(condition, "fallback")!.Value;
            return elapsed + doubt < fallback ? "interval-too-short" : elapsed - doubt < fallback ? "interval-undetermined" : null;
        }

        return cure.Dose(start.At + start.Uncertainty, end.At - end.Uncertainty, unknownAsHottest: false) >= Whole ? null
            : cure.Dose(start.At - start.Uncertainty, end.At + end.Uncertainty, unknownAsHottest: true) < Whole ? "interval-too-short"
            : "interval-undetermined";
    }

    /// <summary>From when on the minimum of an open interval is met, if it stays as it was read last.</summary>
    public DateTimeOffset? ReadyAt(JsonElement condition, Tried? starting, Moment start) =>
        Find(condition, starting, start, DateTimeOffset.MaxValue) is { } cure ? cure.ReadyAt(start.At, Whole) : start.At + Json.Duration(condition, "fallback");

    private Warmth? Find(JsonElement condition, Tried? starting, Moment start, DateTimeOffset to)
    {
        if (starting?.Step is not { } step || (Json.Text(condition, "place") ?? starting.Fact.Station) is not { } place)
        {
            return null;
        }

        var requirements = MaterialReader.MaterialsOf(past, step);
        var items = Json.List(starting.Fact.Body, "materials")
            .Where(u => MaterialReader.Serves(requirements, u) == Json.Text(condition, "requirement")).Select(u => Json.Text(u, "item")!).Distinct(StringComparer.Ordinal).ToList();
        if (items.Count == 0)
        {
            return null;
        }

        var table = items.Count == 1 ? TableOf(items[0], Json.Text(condition, "state")!) : throw new InvalidOperationException("The demo cures one item at a time.");
        var gap = Json.Duration(condition, "readingGapMax")!.Value;
        return Warmth.Of(book, place, table, gap, start.At, start.Uncertainty, to);
    }

    private (double Kelvin, double Seconds)[] TableOf(string item, string state)
    {
        var definition = book.About("item", item, "item-defined").LastOrDefault();
        return definition is null || Json.Member(definition.Body, "cure") is not { } cure
            ? []
            : [.. Json.List(cure, "rows").Where(r => Json.Duration(r, state) is not null)
                .Select(r => ((double)Units.Convert(r.GetProperty("temperature"), "K"), Json.Duration(r, state)!.Value.TotalSeconds)).OrderBy(r => r.Item1)];
    }
}
