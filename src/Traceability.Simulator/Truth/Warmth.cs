namespace Traceability.Simulator.Truth;

/// <summary>What the temperatures that were read at a place do to something that takes its time by them, second by second.</summary>
/// <remarks>
/// From the reference page on judgements: between rows ln(time) is linear in 1/T; between two readings that are near enough the temperature
/// is linear in time, and the last one holds as long.
/// </remarks>
/// <param name="Table">The rows, the coldest first.</param>
/// <param name="Readings">The readings, by time.</param>
/// <param name="Gap">How far apart two readings may be.</param>
internal sealed record Warmth((double Kelvin, double Seconds)[] Table, List<(DateTimeOffset At, double Kelvin)> Readings, TimeSpan Gap)
{
    /// <summary>Looks up the readings around a time; null where there are none, or no row.</summary>
    public static Warmth? Of(
        FactBook book, string place, (double Kelvin, double Seconds)[] table, TimeSpan gap, DateTimeOffset start, TimeSpan uncertainty, DateTimeOffset to)
    {
        var from = start - gap - uncertainty;
        var readings = book.Temperatures(place).Where(r => r.At >= from && (to == DateTimeOffset.MaxValue || r.At <= to + gap)).ToList();
        return table.Length == 0 || readings.Count == 0 ? null : new(table, readings, gap);
    }

    /// <summary>The sum of the parts of the whole time, as the readings show it.</summary>
    /// <param name="from">Begin.</param>
    /// <param name="to">End.</param>
    /// <param name="unknownAsHottest">Where no reading tells, the hottest row counts; else nothing.</param>
    /// <param name="colderAsColdest">Where it is colder than the coldest row, that one counts; else nothing.</param>
    public double Dose(DateTimeOffset from, DateTimeOffset to, bool unknownAsHottest, bool colderAsColdest = false)
    {
        var dose = 0.0;
        for (var at = from; at < to; at = at.AddSeconds(1))
        {
            var length = Math.Min(1, (to - at).TotalSeconds);
            var rate = TemperatureAt(at.AddSeconds(length / 2)) is { } kelvin ? Rate(kelvin, colderAsColdest) : unknownAsHottest ? 1 / Table[^1].Seconds : 0;
            dose += rate * length;
        }

        return dose;
    }

    /// <summary>Whether it was hotter than the hottest row.</summary>
    public bool IsHotter(DateTimeOffset from, DateTimeOffset to)
    {
        for (var at = from; at < to; at = at.AddSeconds(1))
        {
            if (TemperatureAt(at) > Table[^1].Kelvin)
            {
                return true;
            }
        }

        return false;
    }

    /// <summary>From when on the sum is the whole, if it stays as it was read last; null: not within a month.</summary>
    public DateTimeOffset? ReadyAt(DateTimeOffset from, double whole)
    {
        var held = Readings[^1].At + Gap;
        var dose = 0.0;
        for (var at = from; at < from.AddDays(31); at = at.AddSeconds(1))
        {
            dose += at >= held ? Rate(Readings[^1].Kelvin, colderAsColdest: false) : TemperatureAt(at.AddSeconds(0.5)) is { } kelvin ? Rate(kelvin, colderAsColdest: false) : 0;
            if (dose >= whole)
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

    private double Rate(double kelvin, bool colderAsColdest)
    {
        if (kelvin < Table[0].Kelvin)
        {
            return colderAsColdest ? 1 / Table[0].Seconds : 0;
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
