using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;

namespace Traceability.Domain.Judging;

/// <summary>What a unit was made of at a moment.</summary>
/// <param name="Unit">The unit.</param>
/// <param name="Standing">Where it stood.</param>
/// <param name="Inside">The units that were inside it, by position.</param>
/// <param name="Lots">The lots that its records up to then name, in the order of use.</param>
/// <param name="HasUnreadable">Some stored fact of it, or of what it is judged by, can't be read: something may be missing.</param>
/// <remarks>As-built is the structure when the unit was first released; as-maintained the one now, or at any other moment.</remarks>
public sealed record UnitStructure(
    UnitKey Unit, Standing Standing, ImmutableArray<Installation> Inside, ImmutableArray<MaterialUsage> Lots, bool HasUnreadable)
{
    /// <summary>The structure at a moment, as it was known at a moment.</summary>
    /// <param name="unit">The unit.</param>
    /// <param name="references">What its judgement looks at.</param>
    /// <param name="at">By what had happened then.</param>
    /// <param name="knownAt">By what had been recorded then; null: by all that is known now.</param>
    /// <returns>Null where the unit was not open yet, or not known to be.</returns>
    public static UnitStructure? Of(ProductUnit unit, IReferences references, DateTimeOffset at, DateTimeOffset? knownAt)
    {
        ArgumentNullException.ThrowIfNull(unit);
        ArgumentNullException.ThrowIfNull(references);
        var then = AsOf.Happened(knownAt is { } known ? AsOf.Known(unit, known) : unit, at);
        if (then.Opened is null)
        {
            return null;
        }

        var judgement = Judge.Unit(then, references);
        return new(
            unit.Key,
            LifeCycle.At(then, at),
            [.. judgement.Installations.Where(i => i.To is null).OrderBy(i => i.Position.ToString(), StringComparer.Ordinal)],
            judgement.Usages,
            judgement.Status.HasUnreadable);
    }

    /// <summary>When the unit was first released, by what was known at a moment; null while it was not.</summary>
    public static DateTimeOffset? BuiltAt(ProductUnit unit, DateTimeOffset? knownAt)
    {
        ArgumentNullException.ThrowIfNull(unit);
        var then = knownAt is { } known ? AsOf.Known(unit, known) : unit;
        return then.Effective.FirstOrDefault(f => f is { IsVoided: false, Fact: UnitReleased })?.At.ToUniversalTime();
    }
}
