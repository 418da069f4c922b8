using System.Diagnostics.CodeAnalysis;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;

namespace Traceability.Domain.Judging;

/// <summary>A unit with the units inside it, each with what it is judged by.</summary>
/// <param name="Unit">The unit.</param>
/// <param name="References">What its judgement looks at.</param>
/// <param name="Inside">The units that are inside it and known here, in the order of their positions.</param>
public sealed record AssembledUnit(ProductUnit Unit, IReferences References, ImmutableArray<AssembledUnit> Inside);

/// <summary>Whether a unit may be released, by the rules: every reason against it at once.</summary>
/// <remarks>
/// A release is a decision: these rules and a person's signature. All steps of the revision that applies are done and passed,
/// no interval is open that must be met, no finding stands that stops, no hold is on it; and so for every unit inside it,
/// which must be released, or have all that a release needs.
/// </remarks>
public static class Release
{
    /// <summary>What is in the way at that moment; empty: it may be released. Total: never throws.</summary>
    public static ImmutableArray<ReleaseBlocker> Ask(AssembledUnit assembled, DateTimeOffset at) => Ask(assembled, UnitAct.Release, at);

    /// <summary>What is in the way of leaving to a consignee at that moment; empty: it may leave. Total: never throws.</summary>
    /// <remarks>It must be released and not gone, and nothing may be lacking now that a release would ask for: a fact that came after the release counts.</remarks>
    public static ImmutableArray<ReleaseBlocker> AskToShip(AssembledUnit assembled, DateTimeOffset at) => Ask(assembled, UnitAct.Ship, at);

    private static ImmutableArray<ReleaseBlocker> Ask(AssembledUnit assembled, UnitAct act, DateTimeOffset at)
    {
        ArgumentNullException.ThrowIfNull(assembled);
        var unit = assembled.Unit;
        var standing = LifeCycle.Of(LifeCycle.At(unit, DateTimeOffset.MaxValue), act).Refusals
            .Select(r => new ReleaseBlocker(unit.Key, r, null, string.Empty, null, LifeCycle.Say(r)));
        return [.. standing, .. Complete(assembled, at), .. Inside(assembled, at)];
    }

    [SuppressMessage("Design", "CA1031:Do not catch general exception types", Justification = "Whoever asks gets an answer: what could not be judged is not released.")]
    private static ImmutableArray<ReleaseBlocker> Complete(AssembledUnit assembled, DateTimeOffset at)
    {
        try
        {
            return [.. ReleaseChecks.Of(ReleaseContext.Of(assembled.Unit, assembled.References, at))];
        }
        catch (Exception defect)
        {
            return [new(assembled.Unit.Key, FindingKinds.UnitNotJudged, null, string.Empty, null, NotJudged.Say(defect))];
        }
    }

    private static IEnumerable<ReleaseBlocker> Inside(AssembledUnit assembled, DateTimeOffset at)
    {
        foreach (var key in InsideOf(Judge.Unit(assembled.Unit, assembled.References)))
        {
            if (assembled.Inside.FirstOrDefault(i => i.Unit.Key == key) is not { } inside)
            {
                yield return new(key, "component-unknown", null, string.Empty, null, $"{key} is inside {assembled.Unit.Key} and not known here. Open it, or correct the record that put it in.");
                continue;
            }

            var standing = LifeCycle.At(inside.Unit, DateTimeOffset.MaxValue);
            foreach (var blocker in Standing(key, standing))
            {
                yield return blocker;
            }

            // One that is released has been judged; how it stands since then is looked at all the same.
            if (standing.Place is Place.InProcess or Place.Returned)
            {
                foreach (var blocker in Complete(inside, at))
                {
                    yield return blocker;
                }
            }

            foreach (var blocker in Inside(inside, at))
            {
                yield return blocker;
            }
        }
    }

    /// <summary>The units that are inside by the judgement of a unit's records, in the order of their positions.</summary>
    public static ImmutableArray<UnitKey> InsideOf(UnitJudgement judgement)
    {
        ArgumentNullException.ThrowIfNull(judgement);
        return
        [
            .. judgement.Installations
                .Where(i => i.To is null)
                .OrderBy(i => i.Position.ToString(), StringComparer.Ordinal)
                .Select(i => i.Component)
                .Distinct(),
        ];
    }

    private static IEnumerable<ReleaseBlocker> Standing(UnitKey key, Standing standing)
    {
        if (standing.IsHeld)
        {
            yield return new(key, LifeCycle.OnHold, null, string.Empty, null, $"{key}, which is inside, is on hold. Find out why, and lift the hold first.");
        }

        if (standing.Place is Place.Scrapped or Place.Shipped)
        {
            yield return new(key, FindingKinds.ComponentNotOnSite, null, string.Empty, null, $"{key}, which is inside, is recorded as {(standing.Place == Place.Scrapped ? "scrap" : "shipped")}. Correct the records, or put another in its place.");
        }
    }
}
