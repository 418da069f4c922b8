namespace Traceability.Domain.Primitives;

/// <summary>Identifies one unit: its item and its serial number.</summary>
public readonly record struct UnitKey(ItemNumber Item, SerialNumber Serial)
{
    /// <summary>Reads "item/serial" as <see cref="ToString"/> writes it, or throws <see cref="FormatException"/>.</summary>
    public static UnitKey Parse(string text)
    {
        ArgumentNullException.ThrowIfNull(text);
        var slash = text.IndexOf('/', StringComparison.Ordinal);
        return slash > 0
            ? new(ItemNumber.Parse(text[..slash]), SerialNumber.Parse(text[(slash + 1)..]))
            : throw new FormatException($"'{text}' is not item/serial.");
    }

    /// <summary>The item in "item/serial" as <see cref="ToString"/> writes it, without reading the whole.</summary>
    public static ReadOnlySpan<char> ItemOf(string unit)
    {
        ArgumentNullException.ThrowIfNull(unit);
        return unit.AsSpan(0, unit.IndexOf('/', StringComparison.Ordinal));
    }

    /// <inheritdoc />
    public override string ToString() => $"{Item}/{Serial}";
}
