using System.Buffers;
using System.Globalization;
using System.Text;

namespace Traceability.Contracts;

/// <summary>Durations as they are written on the wire and in stored events: <c>PT10M</c>, <c>P1DT12H</c>, <c>PT0.5S</c>.</summary>
/// <remarks>
/// Source of the form: ISO 8601-1:2019, section 5.5.2.2 (and the sign of ISO 8601-2 for clock offsets). Years and
/// months are not read, since they have no fixed length; a day is 24 hours here. Digits beyond a tick (100 ns) are refused.
/// </remarks>
public static class IsoDuration
{
    private const int TextLengthMax = 40;
    private static readonly SearchValues<char> NumberCharacters = SearchValues.Create("0123456789.,");

    // In the order in which ISO 8601 lets them stand; the second M (minutes) comes after the T.
    private static readonly (char Designator, long Ticks)[] DateParts = [('W', 7 * TimeSpan.TicksPerDay), ('D', TimeSpan.TicksPerDay)];
    private static readonly (char Designator, long Ticks)[] TimeParts =
        [('H', TimeSpan.TicksPerHour), ('M', TimeSpan.TicksPerMinute), ('S', TimeSpan.TicksPerSecond)];

    /// <summary>Writes the shortest form: days, hours, minutes and seconds that are not zero; <c>PT0S</c> for zero.</summary>
    public static string Write(TimeSpan value)
    {
        if (value == TimeSpan.Zero)
        {
            return "PT0S";
        }

        var text = new StringBuilder(value < TimeSpan.Zero ? "-P" : "P");
        var rest = value.Ticks.ToInt128Magnitude();
        Append(text, ref rest, TimeSpan.TicksPerDay, 'D');
        if (rest != 0)
        {
            text.Append('T');
            Append(text, ref rest, TimeSpan.TicksPerHour, 'H');
            Append(text, ref rest, TimeSpan.TicksPerMinute, 'M');
            if (rest != 0)
            {
                var seconds = (decimal)rest / TimeSpan.TicksPerSecond;
                text.Append(CultureInfo.InvariantCulture, $"{seconds:0.#######}S");
            }
        }

        return text.ToString();
    }

    /// <summary>Reads a duration; false if the text has another form or does not fit (about 29,000 years).</summary>
    public static bool TryParse(ReadOnlySpan<char> text, out TimeSpan value)
    {
        value = default;
        if (text.Length > TextLengthMax)
        {
            return false;
        }

        var negative = text is ['-', ..];
        var rest = negative ? text[1..] : text;
        if (rest is not ['P', .., not 'T'])
        {
            return false;
        }

        rest = rest[1..];
        Int128 ticks = 0;
        var timeAt = rest.IndexOf('T');
        var date = timeAt < 0 ? rest : rest[..timeAt];
        if (!TryAdd(date, DateParts, ref ticks) || (timeAt >= 0 && !TryAdd(rest[(timeAt + 1)..], TimeParts, ref ticks)) || ticks > long.MaxValue)
        {
            return false;
        }

        value = new TimeSpan(negative ? -(long)ticks : (long)ticks);
        return true;
    }

    private static Int128 ToInt128Magnitude(this long ticks) => Int128.Abs(ticks);

    private static void Append(StringBuilder text, ref Int128 rest, long ticks, char designator)
    {
        var count = rest / ticks;
        rest %= ticks;
        if (count != 0)
        {
            text.Append(CultureInfo.InvariantCulture, $"{count}{designator}");
        }
    }

    private static bool TryAdd(ReadOnlySpan<char> text, (char Designator, long Ticks)[] parts, ref Int128 ticks)
    {
        var next = 0;
        while (text.Length > 0)
        {
            var end = text.IndexOfAnyExcept(NumberCharacters);
            if (end <= 0)
            {
                return false;
            }

            while (next < parts.Length && parts[next].Designator != text[end])
            {
                next++;
            }

            if (next == parts.Length || !TryCount(text[..end], parts[next].Ticks, out var counted))
            {
                return false;
            }

            // Only the last part may have a fraction.
            if (text[..end].ContainsAny('.', ',') && end + 1 != text.Length)
            {
                return false;
            }

            ticks += counted;
            text = text[(end + 1)..];
            next++;
        }

        return true;
    }

    private static bool TryCount(ReadOnlySpan<char> digits, long ticksEach, out Int128 ticks)
    {
        ticks = 0;
        var point = digits.IndexOfAny('.', ',');
        var whole = point < 0 ? digits : digits[..point];
        var fraction = point < 0 ? [] : digits[(point + 1)..];
        if (!ulong.TryParse(whole, NumberStyles.None, CultureInfo.InvariantCulture, out var count) || (point >= 0 && fraction.IsEmpty) || fraction.Length > 12)
        {
            return false;
        }

        ticks = (Int128)count * ticksEach;
        if (!fraction.IsEmpty)
        {
            if (!ulong.TryParse(fraction, NumberStyles.None, CultureInfo.InvariantCulture, out var part))
            {
                return false;
            }

            Int128 scale = 1;
            for (var i = 0; i < fraction.Length; i++)
            {
                scale *= 10;
            }

            var scaled = (Int128)part * ticksEach;
            ticks += scaled / scale;
            return scaled % scale == 0;
        }

        return true;
    }
}
