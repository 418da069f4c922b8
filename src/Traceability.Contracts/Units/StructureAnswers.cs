using Traceability.Contracts.Facts;

namespace Traceability.Contracts.Units;

/// <summary>What a unit was made of at a moment: as built, or as maintained.</summary>
/// <param name="AsOf">The moment, by when things happened.</param>
/// <param name="KnownAt">As it was known at this moment, by when things were recorded; null: by all that is known now.</param>
/// <param name="Unit">The unit and the units that were inside it.</param>
/// <param name="IsComplete">No stored record that could matter is unreadable.</param>
public sealed record StructureView(DateTimeOffset AsOf, DateTimeOffset? KnownAt, StructureUnit Unit, bool IsComplete);

/// <summary>One unit of a structure.</summary>
/// <param name="Unit">The unit.</param>
/// <param name="Place">Where it stood: in-process, in-stock, shipped, returned or scrapped, or on-hold.</param>
/// <param name="Lots">The lots that its records up to then name.</param>
/// <param name="Components">The units that were inside it, by position.</param>
public sealed record StructureUnit(UnitRef Unit, string Place, IReadOnlyList<StructureLot> Lots, IReadOnlyList<StructureComponent> Components);

/// <summary>A lot that went into a unit.</summary>
/// <param name="Item">Item number.</param>
/// <param name="Lot">Lot number.</param>
/// <param name="Container">Container, where it was recorded.</param>
/// <param name="Step">The step; null for the lot that the unit itself came in.</param>
/// <param name="Record">Id of the fact.</param>
/// <param name="IsOneOf">The record names several lots, one of which was used.</param>
public sealed record StructureLot(string Item, string Lot, string? Container, string? Step, Guid Record, bool IsOneOf);

/// <summary>A unit in a position.</summary>
/// <param name="Position">Where.</param>
/// <param name="Since">Since when.</param>
/// <param name="Record">Id of the fact that put it in.</param>
/// <param name="Unit">The unit.</param>
/// <param name="Inside">What it was made of then; null where nothing was known of it.</param>
public sealed record StructureComponent(string Position, DateTimeOffset Since, Guid Record, UnitRef Unit, StructureUnit? Inside);
