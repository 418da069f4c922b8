namespace Traceability.Domain.Primitives;

/// <summary>Identifies one lot: its item and its lot number.</summary>
public readonly record struct LotKey(ItemNumber Item, LotNumber Lot)
{
    /// <inheritdoc />
    public override string ToString() => $"{Item}/{Lot}";
}
