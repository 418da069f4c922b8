using Traceability.Contracts.Facts;
using Traceability.Contracts.Units;

namespace Traceability.Contracts.Shipments;

/// <summary>Units that a person lets leave to a consignee, by one decision.</summary>
public sealed record ShipmentRequest
{
    /// <summary>The id that the sender gives the shipment. The same request again with the same id is answered as the first time.</summary>
    public required Guid ShipmentId { get; init; }

    /// <summary>To whom.</summary>
    public required string Consignee { get; init; }

    /// <summary>Under which order, if any.</summary>
    public string? OrderReference { get; init; }

    /// <summary>Code of the person who decides.</summary>
    public required string Person { get; init; }

    /// <summary>Station at which it is decided, if any.</summary>
    public string? Station { get; init; }

    /// <summary>The units, 1 to 500, each once.</summary>
    public required IReadOnlyList<UnitRef> Units { get; init; }
}

/// <summary>The answer to a shipment that is recorded.</summary>
/// <param name="ShipmentId">Its id.</param>
/// <param name="RecordedAt">When its last unit was recorded.</param>
/// <param name="IsRepeat">Whether it had been recorded before; then this is the first answer again.</param>
/// <param name="Units">The units, in the order of the request.</param>
public sealed record ShipmentReceipt(Guid ShipmentId, DateTimeOffset RecordedAt, bool IsRepeat, IReadOnlyList<ShippedUnitReceipt> Units);

/// <summary>What was recorded of one unit of a shipment.</summary>
/// <param name="Unit">The unit.</param>
/// <param name="FactId">Id of its unit-shipped fact.</param>
/// <param name="Version">Its place in the unit's stream, from 1.</param>
public sealed record ShippedUnitReceipt(UnitRef Unit, Guid FactId, int Version);

/// <summary>A unit that may not leave, in the problem shipment-blocked.</summary>
/// <param name="Unit">The unit of the request.</param>
/// <param name="Blockers">Everything that is in its way, of the unit and of the units inside it.</param>
public sealed record BlockedUnitView(UnitRef Unit, IReadOnlyList<BlockerView> Blockers);

/// <summary>Shipments, newest first.</summary>
/// <param name="AsOf">The moment of the answer.</param>
/// <param name="Shipments">They.</param>
/// <param name="After">For the next page; null on the last.</param>
/// <param name="Completeness">What may be missing.</param>
public sealed record ShipmentPage(DateTimeOffset AsOf, IReadOnlyList<ShipmentView> Shipments, string? After, Completeness Completeness);

/// <summary>Units that left to a consignee together, or one that was reported alone.</summary>
/// <param name="ShipmentId">The shipment; null for a unit that was reported alone.</param>
/// <param name="Consignee">To whom, by what counts now: a unit whose record was corrected to another consignee is listed there.</param>
/// <param name="OrderReference">Under which order; null where none was named.</param>
/// <param name="At">When the last of the units left.</param>
/// <param name="Units">The units, by item and serial.</param>
public sealed record ShipmentView(Guid? ShipmentId, string Consignee, string? OrderReference, DateTimeOffset At, IReadOnlyList<ShippedUnitView> Units);

/// <summary>One unit of a shipment.</summary>
/// <param name="Unit">The unit.</param>
/// <param name="Record">Id of its unit-shipped fact.</param>
/// <param name="At">When it left.</param>
/// <param name="ReturnedAt">When it came back after that; null while that is not recorded.</param>
public sealed record ShippedUnitView(UnitRef Unit, Guid Record, DateTimeOffset At, DateTimeOffset? ReturnedAt);
