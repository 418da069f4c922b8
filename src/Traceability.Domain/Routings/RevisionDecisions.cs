using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Routings;

/// <summary>Decides whether a revision can be approved or released.</summary>
/// <remarks>
/// Where the item asks for approvals, a release needs that many people who approved the draft as it stands, none of them
/// an author of it or the one who releases it. A release that was recorded before the item asked for any stays valid.
/// </remarks>
public static class RevisionDecisions
{
    /// <summary>The refusal of a release, or null: record it.</summary>
    public static Refusal? CheckRelease(RoutingReleased release, IReferences references)
    {
        ArgumentNullException.ThrowIfNull(release);
        ArgumentNullException.ThrowIfNull(references);
        var routing = references.FindRouting(release.Item);
        if (CheckDraft(routing, release.Item, release.Revision, "is released already.") is { } refusal)
        {
            return refusal;
        }

        if (references.FindItem(release.Item)?.ApprovalsNeeded is not ({ } needed and > 0))
        {
            return null;
        }

        if (release.ReleasedBy is not { } releasedBy)
        {
            return Refusal.At(
                "releaser-not-named", RefusalKind.Contradiction, "/releasedBy", $"A revision of {release.Item} needs an approval by a second person, so a release must say who releases it. Name the person.");
        }

        var life = routing!.FindLife(release.Revision)!;
        var given = life.ApprovalsBeside(releasedBy);
        return given >= needed
            ? null
            : Refusal.At(
                "approval-missing",
                RefusalKind.Contradiction,
                "/revision",
                $"Revision {release.Revision} of {release.Item} needs {needed} approval(s) by people who neither wrote it nor release it, and has {given}. Have it approved first.");
    }

    /// <summary>The refusal of an approval, or null: record it.</summary>
    public static Refusal? CheckApproval(RoutingApproved approval, IReferences references)
    {
        ArgumentNullException.ThrowIfNull(approval);
        ArgumentNullException.ThrowIfNull(references);
        var routing = references.FindRouting(approval.Item);
        if (CheckDraft(routing, approval.Item, approval.Revision, "is released: there is nothing left to approve.") is { } refusal)
        {
            return refusal;
        }

        if (references.FindPerson(approval.ApprovedBy) is null)
        {
            return Refusal.At("person-unknown", RefusalKind.Unknown, "/approvedBy", $"Person {approval.ApprovedBy} is not known. Define the person first, or correct the code.");
        }

        var life = routing!.FindLife(approval.Revision)!;
        if (life.IsAuthorUnknown)
        {
            return Refusal.At(
                "author-not-named",
                RefusalKind.Contradiction,
                "/revision",
                $"A draft of revision {approval.Revision} of {approval.Item} does not say who wrote it, so nobody can be shown to be a second person. Draft it as another revision, with the person named.");
        }

        if (life.Authors.Contains(approval.ApprovedBy))
        {
            return Refusal.At(
                "approver-not-independent", RefusalKind.Contradiction, "/approvedBy", $"{approval.ApprovedBy} wrote a draft of revision {approval.Revision} and can't approve it. Ask another person.");
        }

        return life.Approvals.Any(a => a.ApprovedBy == approval.ApprovedBy)
            ? Refusal.At("approval-given", RefusalKind.Contradiction, "/approvedBy", $"{approval.ApprovedBy} has approved revision {approval.Revision} of {approval.Item} as it stands. Nothing more is needed of this person.")
            : null;
    }

    private static Refusal? CheckDraft(Routing? routing, ItemNumber item, RevisionCode revision, string ifReleased) =>
        routing?.FindReleased(revision) is not null ? Refusal.At("revision-released", RefusalKind.Contradiction, "/revision", $"Revision {revision} of {item} {ifReleased}")
        : routing?.Drafts.Any(d => d.Revision == revision) == true ? null
        : Refusal.At("revision-unknown", RefusalKind.Unknown, "/revision", $"A draft of revision {revision} of {item} is not known. Define it first, or correct the name.");
}
