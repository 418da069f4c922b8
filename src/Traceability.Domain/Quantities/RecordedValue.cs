using System.Diagnostics.CodeAnalysis;
using System.Globalization;

namespace Traceability.Domain.Quantities;

/// <summary>Reads the number of a recorded value so that nothing of it is lost.</summary>
/// <remarks>
/// A decimal parser rounds a number that is too long without a word; a record must not. So a number that could
/// not be given back digit by digit is refused. The form is that of a JSON number: RFC 8259, section 6.
/// NaN and infinity have no such form.
/// </remarks>
public static class RecordedValue
{
    /// <summary>The most significant digits that a recorded value may have.</summary>
    public const int SignificantDigitsMax = 28;

    private const int TextLengthMax = 64;

    /// <summary>Reads a JSON number of at most <see cref="SignificantDigitsMax"/> significant digits and 28 decimal places.</summary>
    /// <param name="text">The number as written; trailing zeros after the point are kept.</param>
    /// <param name="value">The number, exactly.</param>
    /// <param name="reason">Why not, for a person.</param>
    public static bool TryParse(ReadOnlySpan<char> text, out decimal value, [NotNullWhen(false)] out string? reason)
    {
        value = 0m;
        if (text.Length > TextLengthMax || !TryMeasure(text, out var significant, out var places))
        {
            reason = "A value is a decimal number such as 0.45, -12 or 1.5e-3; not a word, a fraction, NaN or infinity.";
            return false;
        }

        if (significant > SignificantDigitsMax || places > 28 || (significant > 0 && significant - places > SignificantDigitsMax))
        {
            reason = "A value has at most 28 significant digits, at most 28 of them after the point, and is below 1e28.";
            return false;
        }

        reason = null;
        value = decimal.Parse(text, NumberStyles.Float, CultureInfo.InvariantCulture);
        return true;
    }

    // Walks the grammar once, counting digits from the first that is not zero, and places after the point.
    private static bool TryMeasure(ReadOnlySpan<char> text, out int significant, out int places)
    {
        significant = 0;
        places = 0;
        var at = text is ['-', ..] ? 1 : 0;
        var whole = Digits(text, ref at, ref significant);
        if (whole == 0 || (whole > 1 && text[at - whole] == '0'))
        {
            return false;
        }

        if (at < text.Length && text[at] == '.')
        {
            at++;
            places = Digits(text, ref at, ref significant);
            if (places == 0)
            {
                return false;
            }
        }

        if (at == text.Length)
        {
            return true;
        }

        if (text[at] is not ('e' or 'E'))
        {
            return false;
        }

        var exponent = text[(at + 1)..];
        if (exponent is not ([>= '0' and <= '9', ..] or ['+' or '-', >= '0' and <= '9', ..])
            || !int.TryParse(exponent, NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out var power)
            || Math.Abs((long)power) > 999)
        {
            return false;
        }

        places -= power;
        return true;
    }

    private static int Digits(ReadOnlySpan<char> text, ref int at, ref int significant)
    {
        var start = at;
        while (at < text.Length && char.IsAsciiDigit(text[at]))
        {
            significant += significant > 0 || text[at] != '0' ? 1 : 0;
            at++;
        }

        return at - start;
    }
}
