using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Routings;

/// <summary>The routing of an item: its revisions in the order of their release, and its drafts.</summary>
/// <param name="Item">The item.</param>
/// <param name="Released">Released revisions, oldest release first.</param>
/// <param name="Drafts">Revisions that are not released.</param>
public sealed record Routing(ItemNumber Item, ImmutableArray<RoutingRevision> Released, ImmutableArray<RoutingRevision> Drafts)
{
    /// <summary>Folds a routing's facts, in order of arrival: revision control is decided here, not on the shop floor.</summary>
    public static Routing Of(ItemNumber item, ImmutableArray<RecordedFact> facts)
    {
        var routing = new Routing(item, [], []);
        foreach (var recorded in facts)
        {
            routing = recorded.Fact switch
            {
                RoutingDrafted d => routing.WithDraft(d.Revision),
                RoutingReleased r => routing.WithRelease(r.Revision),
                _ => routing,
            };
        }

        return routing;
    }

    /// <summary>The released revision with this code, or null.</summary>
    public RoutingRevision? FindReleased(RevisionCode revision) => Released.FirstOrDefault(r => r.Revision == revision);

    /// <summary>The revision effective for such a unit: of those that apply, the one released last; null if none applies.</summary>
    public RoutingRevision? EffectiveFor(
        SerialNumber serial, VariantCode? variant, ImmutableArray<Code> options, DateTimeOffset openedAt) =>
        Released.LastOrDefault(r => r.Effectivity.AppliesTo(serial, variant, options, openedAt));

    private Routing WithDraft(RoutingRevision revision) =>
        FindReleased(revision.Revision) is not null
            ? this
            : this with { Drafts = Drafts.RemoveAll(d => d.Revision == revision.Revision).Add(revision) };

    private Routing WithRelease(RevisionCode revision) =>
        Drafts.FirstOrDefault(d => d.Revision == revision) is { } draft
            ? this with { Released = Released.Add(draft), Drafts = Drafts.Remove(draft) }
            : this;
}
