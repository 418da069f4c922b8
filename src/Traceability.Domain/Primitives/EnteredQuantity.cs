using System.Globalization;

namespace Traceability.Domain.Primitives;

/// <summary>A value with its unit exactly as it was entered or reported, so that it can be shown so.</summary>
/// <param name="Value">The decimal digits as reported.</param>
/// <param name="Unit">The unit as a case-sensitive UCUM code, "1" for a bare number.</param>
public readonly record struct EnteredQuantity(decimal Value, string Unit)
{
    /// <summary>Reads what <see cref="ToString"/> writes.</summary>
    /// <exception cref="FormatException">It is something else.</exception>
    public static EnteredQuantity Parse(string text)
    {
        ArgumentNullException.ThrowIfNull(text);
        var space = text.IndexOf(' ', StringComparison.Ordinal);
        return space < 0
            ? throw new FormatException($"'{text}' is not a number, a space and a unit.")
            : new(decimal.Parse(text.AsSpan(0, space), NumberStyles.Float, CultureInfo.InvariantCulture), text[(space + 1)..]);
    }

    /// <inheritdoc />
    public override string ToString() =>
        string.Create(CultureInfo.InvariantCulture, $"{Value} {Unit}");
}
