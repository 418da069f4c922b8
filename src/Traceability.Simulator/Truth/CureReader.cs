using System.Text.Json;

namespace Traceability.Simulator.Truth;

/// <summary>Works out what has cured by temperature readings, second by second.</summary>
/// <remarks>
/// From the reference page on judgements: between rows ln(time) is linear in 1/T; colder than the table earns nothing, hotter counts as
/// the hottest row; between two readings that are near enough the temperature is linear in time, and the last one holds as long.
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
        Find(condition, starting, start, DateTimeOffset.MaxValue) is { } cure ? cure.ReadyAt(start.At) : start.At + Json.Duration(condition, "fallback");

    private Cure? Find(JsonElement condition, Tried? starting, Moment start, DateTimeOffset to)
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
        var from = start.At - gap - start.Uncertainty;
        var readings = book.Temperatures(place).Where(r => r.At >= from && (to == DateTimeOffset.MaxValue || r.At <= to + gap)).ToList();
        return table.Length == 0 || readings.Count == 0 ? null : new(table, readings, gap);
    }

    private (double Kelvin, double Seconds)[] TableOf(string item, string state)
    {
        var definition = book.About("item", item, "item-defined").LastOrDefault();
        return definition is null || Json.Member(definition.Body, "cure") is not { } cure
            ? []
            : [.. Json.List(cure, "rows").Where(r => Json.Duration(r, state) is not null)
                .Select(r => ((double)Units.Convert(r.GetProperty("temperature"), "K"), Json.Duration(r, state)!.Value.TotalSeconds)).OrderBy(r => r.Item1)];
    }

    private sealed record Cure((double Kelvin, double Seconds)[] Table, List<(DateTimeOffset At, double Kelvin)> Readings, TimeSpan Gap)
    {
        public double Dose(DateTimeOffset from, DateTimeOffset to, bool unknownAsHottest)
        {
            var dose = 0.0;
            for (var at = from; at < to; at = at.AddSeconds(1))
            {
                var length = Math.Min(1, (to - at).TotalSeconds);
                var rate = TemperatureAt(at.AddSeconds(length / 2)) is { } kelvin ? Rate(kelvin) : unknownAsHottest ? 1 / Table[^1].Seconds : 0;
                dose += rate * length;
            }

            return dose;
        }

        public DateTimeOffset? ReadyAt(DateTimeOffset from)
        {
            var held = Readings[^1].At + Gap;
            var dose = 0.0;
            for (var at = from; at < from.AddDays(31); at = at.AddSeconds(1))
            {
                dose += at >= held ? Rate(Readings[^1].Kelvin) : TemperatureAt(at.AddSeconds(0.5)) is { } kelvin ? Rate(kelvin) : 0;
                if (dose >= Whole)
                {
                    return at.AddSeconds(1);
                }
            }

            return null;
        }

        private double? TemperatureAt(DateTimeOffset at)
        {
            var last = Readings.FindLastIndex(r => r.At <= at);
            if (last < 0)
            {
                return null;
            }

            var a = Readings[last];
            if (last + 1 == Readings.Count)
            {
                return at < a.At + Gap ? a.Kelvin : null;
            }

            var b = Readings[last + 1];
            return b.At - a.At > Gap ? null : a.Kelvin + ((b.Kelvin - a.Kelvin) * ((at - a.At).TotalSeconds / (b.At - a.At).TotalSeconds));
        }

        private double Rate(double kelvin)
        {
            if (kelvin < Table[0].Kelvin)
            {
                return 0;
            }

            var row = Array.FindLastIndex(Table, r => r.Kelvin <= kelvin);
            if (row + 1 == Table.Length)
            {
                return 1 / Table[row].Seconds;
            }

            var (low, high) = (Table[row], Table[row + 1]);
            var share = ((1 / kelvin) - (1 / low.Kelvin)) / ((1 / high.Kelvin) - (1 / low.Kelvin));
            return 1 / Math.Exp(Math.Log(low.Seconds) + (share * (Math.Log(high.Seconds) - Math.Log(low.Seconds))));
        }
    }
}
