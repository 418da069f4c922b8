using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Routings;

/// <summary>The routing of an item: its revisions in the order of their release, and its drafts.</summary>
/// <param name="Item">The item.</param>
/// <param name="Released">Released revisions, oldest release first.</param>
/// <param name="Drafts">Revisions that are not released.</param>
public sealed record Routing(ItemNumber Item, ImmutableArray<RoutingRevision> Released, ImmutableArray<RoutingRevision> Drafts)
{
    /// <summary>Whether a released revision has an interval rule that looks at temperatures.</summary>
    public bool HasTemperature { get; } = Released.Any(r => !r.Intervals.IsDefault && r.Intervals.Any(i => i.Temperature is not null || i.OpenTimeOf is not null));

    /// <summary>Who wrote, approved and released each revision, in the order in which they were first heard of.</summary>
    public ImmutableArray<RevisionLife> Lives { get; init; } = [];

    /// <summary>What may be put in where a revision names another component, by decision.</summary>
    public ImmutableArray<Replacement> Replacements { get; init; } = [];

    /// <summary>Folds a routing's facts.</summary>
    /// <remarks>
    /// What a release released is decided when it arrives: the draft as it is then. Which of two released revisions is the
    /// later one is told by when they were released, not by which of the two was heard of first.
    /// </remarks>
    public static Routing Of(ItemNumber item, ImmutableArray<RecordedFact> facts)
    {
        var drafts = ImmutableArray<RoutingRevision>.Empty;
        var released = new List<(DateTimeOffset At, Guid Id, RoutingRevision Revision)>();
        foreach (var recorded in facts)
        {
            switch (recorded.Fact)
            {
                case RoutingDrafted d when !released.Exists(r => r.Revision.Revision == d.Revision.Revision):
                    drafts = drafts.RemoveAll(r => r.Revision == d.Revision.Revision).Add(d.Revision);
                    break;
                case RoutingReleased r when drafts.FirstOrDefault(d => d.Revision == r.Revision) is { } draft:
                    drafts = drafts.Remove(draft);
                    released.Add((r.At, recorded.Id, draft));
                    break;
            }
        }

        return new(item, [.. released.OrderBy(r => r.At).ThenBy(r => r.Id).Select(r => r.Revision)], drafts) { Lives = RevisionLives.Of(facts), Replacements = Replacement.Of(facts) };
    }

    /// <summary>Who wrote, approved and released the revision; null if there is none.</summary>
    public RevisionLife? FindLife(RevisionCode revision) => Lives.FirstOrDefault(l => l.Revision == revision);

    /// <summary>The released revision or the draft with this code, or null.</summary>
    public RoutingRevision? Find(RevisionCode revision) => FindReleased(revision) ?? Drafts.FirstOrDefault(d => d.Revision == revision);

    /// <summary>The released revision with this code, or null.</summary>
    public RoutingRevision? FindReleased(RevisionCode revision) => Released.FirstOrDefault(r => r.Revision == revision);

    /// <summary>The decision by which an item may be put in at that moment where a requirement of the revision asks for another one; null if there is none.</summary>
    public Replacement? FindReplacement(ItemNumber item, ComponentRequirement requirement, RevisionCode revision, DateTimeOffset at) =>
        Replacements.FirstOrDefault(r => r.Lets(item, requirement, revision, at));

    /// <summary>The revision effective for such a unit: of those that apply, the one released last; null if none applies.</summary>
    public RoutingRevision? EffectiveFor(
        SerialNumber serial, VariantCode? variant, ImmutableArray<Code> options, DateTimeOffset openedAt) =>
        Released.LastOrDefault(r => r.Effectivity.AppliesTo(serial, variant, options, openedAt));
}
