using System.Globalization;
using Traceability.Contracts.Narrowing;
using Traceability.Domain.Narrowing;
using Traceability.Domain.Scope;

namespace Traceability.Service.Features.Scope.Narrowing;

/// <summary>Turns what was found into its answer.</summary>
internal static class NarrowingViews
{
    private const int ClearedMax = 20;
    private const int UnitsMax = 100;

    public static NarrowingAlternative Alternative(Alternative alternative, ScopeFound found, HashSet<string> whole)
    {
        var proven = found.Members.Count(m => m.Verdict == ScopeVerdict.Proven);
        return new(
            ScopeNames.Of(alternative.By),
            alternative.Name,
            SuspectJson.View(alternative.Suspect),
            alternative.Suspect.ToString()!,
            found.Members.Length,
            proven,
            found.Members.Length - proven,
            whole.Count - found.Members.Count(m => whole.Contains(m.Unit)));
    }

    public static NarrowingFact Fact(ClearingFact fact)
    {
        var (key, unit) = (fact.Fact, ScopeViews.Unit(fact.Fact.Unit));
        return new(
            unit,
            key.Step,
            key.What,
            ScopeNames.Of(fact.Missing),
            $"Find out {Asked(fact.Missing, key.What)}{At(key.Step)} on {key.Unit}{Where(fact.Whereabouts)}.",
            key.Record == Guid.Empty ? null : key.Record,
            ScopeViews.Place(fact.Whereabouts),
            fact.Cleared.Length,
            [.. fact.Cleared.Take(ClearedMax).Select(ScopeViews.Unit)]);
    }

    public static NarrowingGroup Group(ClearingGroup group)
    {
        string[] units = [.. group.Facts.Select(f => f.Unit).Distinct(StringComparer.Ordinal)];
        var place = group.Place is { } known ? ScopeNames.Of(known) : "not-recorded";
        return new(
            string.Create(
                CultureInfo.InvariantCulture,
                $"Find out {Asked(group.Missing, group.What)}{At(group.Step)} on these {units.Length} units of {group.Item} ({place}): that would clear {group.Cleared.Length}, if none names what is suspected."),
            group.Item,
            group.Step,
            group.What,
            ScopeNames.Of(group.Missing),
            place,
            group.Facts.Length,
            [.. units.Take(UnitsMax).Select(ScopeViews.Unit)],
            group.Cleared.Length);
    }

    public static IEnumerable<string> Remarks(MissingFacts facts, int notAsked)
    {
        yield return "All of this says what if. No alternative and no missing fact clears a unit: a record does, once it is there.";
        if (facts.Possible > 0 && facts.Candidates == 0)
        {
            yield return "No member is possible for want of one fact that could be looked up: the possible ones are so for other reasons, which their ways tell.";
        }

        if (!facts.IsRanked)
        {
            yield return string.Create(
                CultureInfo.InvariantCulture,
                $"{facts.Tried} of {facts.Candidates}{(facts.IsCut ? " and more" : string.Empty)} missing facts were tried, those first that most members hang on: one that was not tried may clear more.");
        }

        if (notAsked > 0)
        {
            yield return string.Create(CultureInfo.InvariantCulture, $"{notAsked} narrower questions were left out, because the time was up.");
        }
    }

    private static string Asked(FactMissing missing, string? what) => missing switch
    {
        FactMissing.Lot => $"which lot was used for {what}",
        FactMissing.Container => $"which container was used{For(what)}",
        FactMissing.Serial => $"which piece was put in at {what}",
        FactMissing.WhichLot => $"which of the lots that the record names was used{For(what)}",
        FactMissing.Tool => $"which tool was used{For(what)}",
        FactMissing.Work => "where, when and by whom the work was done",
        FactMissing.Value => $"what {what} is",
        FactMissing.Interval => $"how long interval {what} was",
        FactMissing.OwnLot => what is null ? "which lot the unit itself came in" : $"which lot the component at {what} came in",
        _ => throw new System.Diagnostics.UnreachableException(),
    };

    private static string For(string? what) => what is null ? string.Empty : $" for {what}";

    private static string At(string? step) => step is null ? string.Empty : $" at step {step}";

    private static string Where(Whereabouts whereabouts) => whereabouts switch
    {
        { Inside: { } inside, Stands: { } stands } => $" (inside {inside}, {ScopeNames.Of(stands.Place)})",
        { Stands: { } stands } => $" ({ScopeNames.Of(stands.Place)})",
        _ => string.Empty,
    };
}
