using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Routings;

/// <summary>Who wrote, approved and released one revision.</summary>
/// <param name="Revision">The revision.</param>
/// <param name="Authors">Everyone who wrote any version of the draft, in the order of their first.</param>
/// <param name="IsAuthorUnknown">Some version of the draft names nobody.</param>
/// <param name="Approvals">Approvals of the last version that stand, or that stood when it was released.</param>
/// <param name="ReleasedBy">Who released it; null while it is a draft, and where nobody is named.</param>
/// <param name="ReleasedAt">When; null while it is a draft.</param>
public sealed record RevisionLife(
    RevisionCode Revision,
    ImmutableArray<PersonCode> Authors,
    bool IsAuthorUnknown,
    ImmutableArray<RevisionApproval> Approvals,
    PersonCode? ReleasedBy,
    DateTimeOffset? ReleasedAt)
{
    /// <summary>How many of those who approved are neither an author nor this person.</summary>
    public int ApprovalsBeside(PersonCode releasedBy) =>
        Approvals.Select(a => a.ApprovedBy).Distinct().Count(p => p != releasedBy && !Authors.Contains(p));
}

/// <summary>One approval of a draft.</summary>
/// <param name="Record">The fact.</param>
/// <param name="ApprovedBy">Who.</param>
/// <param name="At">When.</param>
public sealed record RevisionApproval(Guid Record, PersonCode ApprovedBy, DateTimeOffset At);

/// <summary>Folds the lives of the revisions of one routing.</summary>
/// <remarks>
/// As with a release, what an approval approved is decided when it arrives: the draft as it is then. An approval that is
/// voided before the release does not count for it; afterwards a void changes nothing, since what was released stays so.
/// </remarks>
internal sealed class RevisionLives
{
    private readonly List<RevisionLife> _lives = [];
    private readonly List<(Guid Id, Guid Record)> _voids = [];

    public static ImmutableArray<RevisionLife> Of(ImmutableArray<RecordedFact> facts)
    {
        var lives = new RevisionLives();
        foreach (var recorded in facts)
        {
            lives.Take(recorded);
        }

        return [.. lives._lives.Select(l => l.ReleasedAt is null ? lives.WithoutVoided(l) : l)];
    }

    private void Take(RecordedFact recorded)
    {
        switch (recorded.Fact)
        {
            case RoutingDrafted drafted:
                Draft(drafted);
                break;
            case RoutingApproved approved when Open(approved.Revision) is var at and >= 0:
                _lives[at] = _lives[at] with { Approvals = _lives[at].Approvals.Add(new(recorded.Id, approved.ApprovedBy, approved.At)) };
                break;
            case RoutingReleased released when Open(released.Revision) is var at and >= 0:
                _lives[at] = WithoutVoided(_lives[at]) with { ReleasedBy = released.ReleasedBy, ReleasedAt = released.At };
                break;
            case RecordVoided voided:
                _voids.Add((recorded.Id, voided.Record));
                break;
        }
    }

    private void Draft(RoutingDrafted drafted)
    {
        var revision = drafted.Revision.Revision;
        var at = Open(revision);
        if (at >= 0)
        {
            _lives[at] = Written(_lives[at], drafted.Person) with { Approvals = [] };
        }
        else if (!_lives.Exists(l => l.Revision == revision))
        {
            _lives.Add(Written(new(revision, [], IsAuthorUnknown: false, [], null, null), drafted.Person));
        }
    }

    private static RevisionLife Written(RevisionLife life, PersonCode? author) =>
        author is not { } person ? life with { IsAuthorUnknown = true }
        : life.Authors.Contains(person) ? life
        : life with { Authors = life.Authors.Add(person) };

    // Where the draft stands; -1 if there is none.
    private int Open(RevisionCode revision) => _lives.FindIndex(l => l.Revision == revision && l.ReleasedAt is null);

    private RevisionLife WithoutVoided(RevisionLife life) => life with { Approvals = life.Approvals.RemoveAll(a => IsVoided(a.Record)) };

    // A void is only accepted of a record that is there before it, so every step looks at later ones only and this ends.
    private bool IsVoided(Guid record)
    {
        for (var i = 0; i < _voids.Count; i++)
        {
            if (_voids[i].Record == record && !IsVoidVoided(i))
            {
                return true;
            }
        }

        return false;
    }

    private bool IsVoidVoided(int index)
    {
        for (var i = index + 1; i < _voids.Count; i++)
        {
            if (_voids[i].Record == _voids[index].Id && !IsVoidVoided(i))
            {
                return true;
            }
        }

        return false;
    }
}
