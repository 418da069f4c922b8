using System.Text.Json.Serialization;
using Traceability.Contracts.Facts;

namespace Traceability.Contracts.Scope;

/// <summary>What is suspected: one thing, or several combined. At most 8 levels and 50 nodes.</summary>
[JsonPolymorphic(TypeDiscriminatorPropertyName = "kind", UnknownDerivedTypeHandling = JsonUnknownDerivedTypeHandling.FailSerialization)]
[JsonDerivedType(typeof(LotSuspect), "lot")]
[JsonDerivedType(typeof(ContainerSuspect), "container")]
[JsonDerivedType(typeof(SupplierLotSuspect), "supplier-lot")]
[JsonDerivedType(typeof(ComponentSuspect), "component")]
[JsonDerivedType(typeof(ToolSuspect), "tool")]
[JsonDerivedType(typeof(WorkSuspect), "work")]
[JsonDerivedType(typeof(MeasuredSuspect), "measured")]
[JsonDerivedType(typeof(IntervalSuspect), "interval")]
[JsonDerivedType(typeof(AndSuspect), "and")]
[JsonDerivedType(typeof(OrSuspect), "or")]
[JsonDerivedType(typeof(ExceptSuspect), "except")]
public abstract record SuspectNode;

/// <summary>A suspect of whose uses only some may count. A use whose step or station isn't recorded stays possible.</summary>
public abstract record NarrowedSuspect : SuspectNode
{
    /// <summary>Only uses from here on; null: always. A use that may have been before is possible.</summary>
    public DateTimeOffset? From { get; init; }

    /// <summary>Only uses before this; null: until now. A use that may have been at or after it is possible.</summary>
    public DateTimeOffset? To { get; init; }

    /// <summary>Only uses at this step.</summary>
    public string? Step { get; init; }

    /// <summary>Only uses at this station.</summary>
    public string? Station { get; init; }
}

/// <summary>A lot of an item.</summary>
public sealed record LotSuspect : NarrowedSuspect
{
    /// <summary>Item number.</summary>
    public required string Item { get; init; }

    /// <summary>Lot number.</summary>
    public required string Lot { get; init; }
}

/// <summary>One container of a lot.</summary>
public sealed record ContainerSuspect : NarrowedSuspect
{
    /// <summary>Item number.</summary>
    public required string Item { get; init; }

    /// <summary>Lot number.</summary>
    public required string Lot { get; init; }

    /// <summary>Container number.</summary>
    public required string Container { get; init; }
}

/// <summary>A supplier's lot: every lot that was received as it.</summary>
public sealed record SupplierLotSuspect : NarrowedSuspect
{
    /// <summary>The supplier's lot, as marked.</summary>
    public required string SupplierLot { get; init; }

    /// <summary>The supplier, as it was recorded; null: any.</summary>
    public string? Supplier { get; init; }
}

/// <summary>A unit itself, wherever it is or was inside.</summary>
public sealed record ComponentSuspect : SuspectNode
{
    /// <summary>Item number.</summary>
    public required string Item { get; init; }

    /// <summary>Serial number.</summary>
    public required string Serial { get; init; }
}

/// <summary>A tool.</summary>
public sealed record ToolSuspect : NarrowedSuspect
{
    /// <summary>Tool number.</summary>
    public required string Tool { get; init; }

    /// <summary>The clutch or program setting; null: any. A use whose setting isn't recorded is possible.</summary>
    public string? Setting { get; init; }

    /// <summary>
    /// all, or since-last-good: the times in which the tool was not shown to be within its limits because it was found outside them;
    /// where there are none, since its last good calibration or check. Null: since-last-good.
    /// </summary>
    public string? Window { get; init; }
}

/// <summary>Work. At least one member is given; all that are given hold for one record of work.</summary>
public sealed record WorkSuspect : NarrowedSuspect
{
    /// <summary>The item that was worked on.</summary>
    public string? Item { get; init; }

    /// <summary>Its variant.</summary>
    public string? Variant { get; init; }

    /// <summary>The routing revision that the work was judged by.</summary>
    public string? Revision { get; init; }

    /// <summary>The person who did it.</summary>
    public string? Person { get; init; }
}

/// <summary>A measured or checked condition: one of below, above, and passed.</summary>
public sealed record MeasuredSuspect : NarrowedSuspect
{
    /// <summary>The item that was measured; null: any.</summary>
    public string? Item { get; init; }

    /// <summary>The characteristic.</summary>
    public required string Characteristic { get; init; }

    /// <summary>Values below this. Where the stated uncertainty reaches over it: possible.</summary>
    public QuantityValue? Below { get; init; }

    /// <summary>Values above this. Where the stated uncertainty reaches over it: possible.</summary>
    public QuantityValue? Above { get; init; }

    /// <summary>false: values that were judged not to pass. Nothing else can be asked for.</summary>
    public bool? Passed { get; init; }
}

/// <summary>An interval that was too short or too long: one of shorterThan and longerThan.</summary>
public sealed record IntervalSuspect : NarrowedSuspect
{
    /// <summary>The item that it was on; null: any.</summary>
    public string? Item { get; init; }

    /// <summary>The interval rule.</summary>
    public required string Rule { get; init; }

    /// <summary>Shorter than this.</summary>
    public TimeSpan? ShorterThan { get; init; }

    /// <summary>Longer than this.</summary>
    public TimeSpan? LongerThan { get; init; }
}

/// <summary>Units that all of these reach; proven where all are.</summary>
public sealed record AndSuspect : SuspectNode
{
    /// <summary>Two or more.</summary>
    public required IReadOnlyList<SuspectNode> Of { get; init; }
}

/// <summary>Units that any of these reaches; the surest counts.</summary>
public sealed record OrSuspect : SuspectNode
{
    /// <summary>Two or more.</summary>
    public required IReadOnlyList<SuspectNode> Of { get; init; }
}

/// <summary>Units that one reaches, and the other not provenly; proven where the other surely doesn't.</summary>
public sealed record ExceptSuspect : SuspectNode
{
    /// <summary>What reaches.</summary>
    public required SuspectNode Of { get; init; }

    /// <summary>What is left out.</summary>
    public required SuspectNode But { get; init; }
}
