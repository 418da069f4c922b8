namespace Traceability.Domain.Primitives;

/// <summary>Identifies one batch: its item and its batch number.</summary>
public readonly record struct BatchKey(ItemNumber Item, BatchNumber Batch)
{
    /// <summary>Reads what <see cref="ToString"/> writes.</summary>
    /// <exception cref="FormatException">It is something else.</exception>
    public static BatchKey Parse(string name)
    {
        ArgumentNullException.ThrowIfNull(name);
        var slash = name.IndexOf('/', StringComparison.Ordinal);
        return new(ItemNumber.Parse(name[..Math.Max(slash, 0)]), BatchNumber.Parse(name[(slash + 1)..]));
    }

    /// <inheritdoc />
    public override string ToString() => $"{Item}/{Batch}";
}
