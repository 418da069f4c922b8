using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Lots;

/// <summary>A fact about one lot or one of its containers; it belongs to the lot's stream.</summary>
public interface ILotFact
{
    /// <summary>The lot.</summary>
    LotKey Lot { get; }
}

/// <summary>A lot came in, or was made.</summary>
/// <param name="Lot">The lot.</param>
/// <param name="SupplierLot">The supplier's own lot, as marked.</param>
/// <param name="Quantity">How much came in.</param>
/// <param name="ExpiresAt">The end of its shelf life (the lot may not be used at or after it).</param>
/// <param name="IsReleased">Whether it may be used from receipt on; else it waits for <see cref="LotReleased"/>.</param>
/// <param name="Stations">Where it could be used; empty: at every station.</param>
public sealed record LotReceived(
    LotKey Lot,
    string? SupplierLot,
    EnteredQuantity? Quantity,
    DateTimeOffset? ExpiresAt,
    bool IsReleased,
    ImmutableArray<StationCode> Stations) : Fact, ILotFact
{
    /// <summary>Who supplied it, by name or code; null where nobody said. Supplier's lots of one number may be of several suppliers.</summary>
    public string? Supplier { get; init; }
}

/// <summary>The lot may be used from here on.</summary>
public sealed record LotReleased(LotKey Lot) : Fact, ILotFact;

/// <summary>The lot may not be used from here on, and is taken from the stations.</summary>
public sealed record LotQuarantined(LotKey Lot, string Reason) : Fact, ILotFact;

/// <summary>The end of the lot's shelf life was set anew.</summary>
public sealed record LotExpirySet(LotKey Lot, DateTimeOffset ExpiresAt, string Reason) : Fact, ILotFact;

/// <summary>The lot was moved: from here on it could be used at these stations only.</summary>
public sealed record LotMoved(LotKey Lot, ImmutableArray<StationCode> Stations) : Fact, ILotFact;

/// <summary>Nothing of the lot is left.</summary>
public sealed record LotEmptied(LotKey Lot) : Fact, ILotFact
{
    /// <summary>How much was thrown away with it; null: nobody said.</summary>
    public EnteredQuantity? Discarded { get; init; }
}

/// <summary>A container of the lot was opened; its life after opening starts.</summary>
/// <param name="Lot">The lot.</param>
/// <param name="Container">The container.</param>
/// <param name="Stations">Where it could be used; empty: wherever its lot could be.</param>
public sealed record ContainerOpened(LotKey Lot, ContainerNumber Container, ImmutableArray<StationCode> Stations) : Fact, ILotFact
{
    /// <summary>How much was in it; null: nobody said.</summary>
    public EnteredQuantity? Quantity { get; init; }
}

/// <summary>A container of the lot was used up or thrown away.</summary>
public sealed record ContainerEmptied(LotKey Lot, ContainerNumber Container) : Fact, ILotFact
{
    /// <summary>How much of it was thrown away; null: nobody said.</summary>
    public EnteredQuantity? Discarded { get; init; }
}
