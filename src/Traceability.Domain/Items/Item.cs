using Traceability.Domain.Cure;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Items;

/// <summary>The kinds of item.</summary>
public enum ItemKind
{
    /// <summary>A part that is bought or made.</summary>
    Part,

    /// <summary>Adhesive, lubricant, tape: used up.</summary>
    Consumable,

    /// <summary>Built here and put into something else.</summary>
    Subassembly,

    /// <summary>Built here and shipped.</summary>
    Product,
}

/// <summary>An item was described, first or anew. The last description counts, for units of every age.</summary>
/// <param name="Item">The item.</param>
/// <param name="Kind">Its kind.</param>
/// <param name="Description">What it is, in words.</param>
/// <param name="Variants">Its variants; empty for none.</param>
/// <param name="LifeAfterOpening">How long a container may be used after it was opened; null: as long as its lot.</param>
public sealed record ItemDefined(
    ItemNumber Item, ItemKind Kind, string Description, ImmutableArray<VariantCode> Variants, TimeSpan? LifeAfterOpening) : Fact
{
    /// <summary>How long it takes to cure, by temperature; null: not known, or it doesn't cure.</summary>
    public CureTable? Cure { get; init; }

    /// <summary>What it is mixed of; null: it is not mixed here.</summary>
    public Mixture? Mix { get; init; }

    /// <summary>For a mix: how long it may be used from the mixing on; null: as long as its parts.</summary>
    public TimeSpan? PotLife { get; init; }

    /// <summary>The same by temperature; <see cref="PotLife"/> holds where there are no readings.</summary>
    public LifeTable? PotLifeByTemperature { get; init; }

    /// <summary><see cref="LifeAfterOpening"/> by temperature; that one holds where there are no readings.</summary>
    public LifeTable? OpenedLifeByTemperature { get; init; }

    /// <summary>How long it may lie open, from where it was applied until the parts are joined, by temperature; null: not known.</summary>
    /// <remarks>The interval rule that refers to it has the fixed time that holds where there are no readings.</remarks>
    public LifeTable? OpenTimeByTemperature { get; init; }

    /// <summary>Whether how long a mix or an opened container of it may be used depends on temperature.</summary>
    [System.Text.Json.Serialization.JsonIgnore]
    public bool HasLifeByTemperature => PotLifeByTemperature is not null || OpenedLifeByTemperature is not null;

    /// <summary>Whether a lot of it may be used only once an inspection has accepted it; null: no.</summary>
    public bool? NeedsInspection { get; init; }

    /// <summary>How many people beside its authors and whoever releases it must approve a revision of the routing; null: none.</summary>
    public int? ApprovalsNeeded { get; init; }
}

/// <summary>A defect code was described, first or anew.</summary>
public sealed record DefectCodeDefined(Code Defect, string Description) : Fact;

/// <summary>What an item is mixed of.</summary>
/// <param name="Parts">The parts, at least two.</param>
/// <param name="Tolerance">How far the ratio of each part to the first may be off, as a share of it: 0.05 is 5 %.</param>
public sealed record Mixture(ImmutableArray<MixturePart> Parts, decimal Tolerance);

/// <summary>One part of a mix.</summary>
/// <param name="Item">The item.</param>
/// <param name="Amount">How much of it for the amounts of the others; by mass or by volume, as its unit tells.</param>
public sealed record MixturePart(ItemNumber Item, EnteredQuantity Amount);
