namespace Traceability.Domain.Primitives;

/// <summary>Identifies one lot: its item and its lot number.</summary>
public readonly record struct LotKey(ItemNumber Item, LotNumber Lot)
{
    /// <summary>Reads what <see cref="ToString"/> writes.</summary>
    /// <exception cref="FormatException">It is something else.</exception>
    public static LotKey Parse(string name)
    {
        ArgumentNullException.ThrowIfNull(name);
        var slash = name.IndexOf('/', StringComparison.Ordinal);
        return new(ItemNumber.Parse(name[..Math.Max(slash, 0)]), LotNumber.Parse(name[(slash + 1)..]));
    }

    /// <inheritdoc />
    public override string ToString() => $"{Item}/{Lot}";
}
