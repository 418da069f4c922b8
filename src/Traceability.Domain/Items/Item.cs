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

    /// <summary>Whether a lot of it may be used only once an inspection has accepted it; null: no.</summary>
    public bool? NeedsInspection { get; init; }

    /// <summary>How many people beside its authors and whoever releases it must approve a revision of the routing; null: none.</summary>
    public int? ApprovalsNeeded { get; init; }
}

/// <summary>A defect code was described, first or anew.</summary>
public sealed record DefectCodeDefined(Code Defect, string Description) : Fact;
