using Traceability.Domain.Primitives;

namespace Traceability.Domain.Scope;

/// <summary>What is suspected: the cause whose reach is asked for. As text it reads as part of a sentence.</summary>
public abstract record Suspect
{
    /// <summary>The single suspects that it is made of, in order.</summary>
    public IEnumerable<SingleSuspect> Singles() => this switch
    {
        SingleSuspect single => [single],
        SuspectAll all => all.Of.SelectMany(s => s.Singles()),
        SuspectAny any => any.Of.SelectMany(s => s.Singles()),
        SuspectExcept except => [.. except.Of.Singles(), .. except.But.Singles()],
        _ => throw new System.Diagnostics.UnreachableException(),
    };
}

/// <summary>One thing that is suspected, not a combination of several.</summary>
public abstract record SingleSuspect : Suspect
{
    /// <summary>Which of its uses count; all, unless said otherwise.</summary>
    public UseFilter Filter { get; init; } = UseFilter.None;
}

/// <summary>Material is suspected.</summary>
/// <param name="Lot">The lot that is suspected, or that the suspect is a part of.</param>
public abstract record SuspectFactor(LotKey Lot) : SingleSuspect;

/// <summary>A whole lot is suspected.</summary>
public sealed record SuspectLot(LotKey Lot) : SuspectFactor(Lot)
{
    /// <inheritdoc />
    public override string ToString() => $"lot {Lot}{Filter}";
}

/// <summary>One container of a lot is suspected.</summary>
/// <param name="Lot">The lot.</param>
/// <param name="Container">The container.</param>
public sealed record SuspectContainer(LotKey Lot, ContainerNumber Container) : SuspectFactor(Lot)
{
    /// <inheritdoc />
    public override string ToString() => $"container {Container} of lot {Lot}{Filter}";
}

/// <summary>A supplier's lot is suspected: every lot that was received as it.</summary>
/// <param name="SupplierLot">The supplier's lot, as marked.</param>
/// <param name="Supplier">The supplier; null: any.</param>
public sealed record SuspectSupplierLot(string SupplierLot, string? Supplier) : SingleSuspect
{
    /// <inheritdoc />
    public override string ToString() => $"supplier's lot {SupplierLot}{(Supplier is null ? string.Empty : $" of {Supplier}")}{Filter}";
}

/// <summary>A unit itself is suspected, wherever it is or was inside.</summary>
/// <param name="Unit">The unit.</param>
public sealed record SuspectComponent(UnitKey Unit) : SingleSuspect
{
    /// <inheritdoc />
    public override string ToString() => $"unit {Unit}";
}

/// <summary>Over which times a tool is suspected.</summary>
public enum ToolTimes
{
    /// <summary>Over its suspect windows; where it has none, since it was last shown good.</summary>
    SinceLastGood,

    /// <summary>At all times.</summary>
    All,
}

/// <summary>A tool is suspected.</summary>
/// <param name="Tool">The tool.</param>
/// <param name="Setting">The setting; null: at every setting.</param>
/// <param name="Times">Over which times.</param>
public sealed record SuspectTool(ToolNumber Tool, Code? Setting, ToolTimes Times) : SingleSuspect
{
    /// <inheritdoc />
    public override string ToString() =>
        $"tool {Tool}{(Setting is { } setting ? $" at setting {setting}" : string.Empty)}{(Times == ToolTimes.All ? string.Empty : " since it was last shown good")}{Filter}";
}

/// <summary>Work is suspected: done on an item, under a revision, at a step, at a station, by a person, in a time; all that is named holds for one record.</summary>
/// <param name="Item">The item that was worked on; null: any.</param>
/// <param name="Variant">Its variant; null: any.</param>
/// <param name="Revision">The routing revision that applied; null: any.</param>
/// <param name="Person">The person; null: anyone.</param>
public sealed record SuspectWork(ItemNumber? Item, VariantCode? Variant, RevisionCode? Revision, PersonCode? Person) : SingleSuspect
{
    /// <inheritdoc />
    public override string ToString()
    {
        var what = Item is { } item ? $"work on {item}" : "work";
        var variant = Variant is { } v ? $" variant {v}" : string.Empty;
        var revision = Revision is { } r ? $" under revision {r}" : string.Empty;
        return $"{what}{variant}{revision}{(Person is { } person ? $" by {person}" : string.Empty)}{Filter}";
    }
}

/// <summary>Which values of a characteristic are suspected.</summary>
public enum MeasuredCondition
{
    /// <summary>Values below the bound.</summary>
    Below,

    /// <summary>Values above the bound.</summary>
    Above,

    /// <summary>Values that were judged not to pass.</summary>
    NotPassed,
}

/// <summary>A measured or checked condition is suspected.</summary>
/// <param name="Item">The item that was measured; null: any.</param>
/// <param name="Characteristic">The characteristic.</param>
/// <param name="Condition">Which values.</param>
/// <param name="Bound">The bound; null for <see cref="MeasuredCondition.NotPassed"/>.</param>
public sealed record SuspectMeasured(ItemNumber? Item, Code Characteristic, MeasuredCondition Condition, EnteredQuantity? Bound) : SingleSuspect
{
    /// <inheritdoc />
    public override string ToString()
    {
        var what = Condition == MeasuredCondition.NotPassed ? "not passed" : $"{(Condition == MeasuredCondition.Below ? "below" : "above")} {Bound}";
        return $"{Characteristic} {what}{(Item is { } item ? $" on {item}" : string.Empty)}{Filter}";
    }
}

/// <summary>An interval is suspected that was too short or too long.</summary>
/// <param name="Item">The item that it was on; null: any.</param>
/// <param name="Rule">The interval rule.</param>
/// <param name="ShorterThan">Shorter than this; null: not asked.</param>
/// <param name="LongerThan">Longer than this; null: not asked. One of the two is.</param>
public sealed record SuspectInterval(ItemNumber? Item, Code Rule, TimeSpan? ShorterThan, TimeSpan? LongerThan) : SingleSuspect
{
    /// <inheritdoc />
    public override string ToString() =>
        $"interval {Rule} {(ShorterThan is { } most ? $"shorter than {ScopeWords.Duration(most)}" : $"longer than {ScopeWords.Duration(LongerThan!.Value)}")}"
        + $"{(Item is { } item ? $" on {item}" : string.Empty)}{Filter}";
}

/// <summary>Everything of several suspects at once.</summary>
/// <param name="Of">The suspects, two or more.</param>
public sealed record SuspectAll(ImmutableArray<Suspect> Of) : Suspect
{
    /// <inheritdoc />
    public override string ToString() => $"({string.Join(" and ", Of)})";
}

/// <summary>Any of several suspects.</summary>
/// <param name="Of">The suspects, two or more.</param>
public sealed record SuspectAny(ImmutableArray<Suspect> Of) : Suspect
{
    /// <inheritdoc />
    public override string ToString() => $"({string.Join(" or ", Of)})";
}

/// <summary>What one suspect reaches and another does not.</summary>
/// <param name="Of">The one.</param>
/// <param name="But">The other.</param>
public sealed record SuspectExcept(Suspect Of, Suspect But) : Suspect
{
    /// <inheritdoc />
    public override string ToString() => $"({Of} except {But})";
}

/// <summary>How sure it is that a suspect factor reached a unit.</summary>
public enum ScopeVerdict
{
    /// <summary>Records say that it was used on this unit or on a unit inside it: so in every way to fill what is missing.</summary>
    Proven,

    /// <summary>A record is missing, void or open, and it could have been used: so in some ways to fill what is missing.</summary>
    Possible,
}
