using Traceability.Domain.Primitives;

namespace Traceability.Domain.Cure;

/// <summary>What a consumable cures to.</summary>
public enum CureState
{
    /// <summary>It holds well enough for the part to be handled.</summary>
    Handling,

    /// <summary>It has its full strength.</summary>
    Full,
}

/// <summary>The times that a consumable takes to a state, by temperature, as its data sheet tells them.</summary>
/// <param name="Rows">The rows, in any order.</param>
public sealed record CureTable(ImmutableArray<CureRow> Rows);

/// <summary>One row of such a table.</summary>
/// <param name="Temperature">The temperature, as the data sheet writes it.</param>
/// <param name="Handling">The time to <see cref="CureState.Handling"/> at that temperature; null: not told.</param>
/// <param name="Full">The time to <see cref="CureState.Full"/>; null: not told.</param>
public sealed record CureRow(EnteredQuantity Temperature, TimeSpan? Handling, TimeSpan? Full)
{
    /// <summary>The time to a state; null: not told.</summary>
    public TimeSpan? To(CureState state) => state == CureState.Full ? Full : Handling;
}
