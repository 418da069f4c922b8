using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Routings;

/// <summary>An item that may be put in where the routing names another one, by a person's decision.</summary>
/// <param name="Record">The fact.</param>
/// <param name="Replaced">The item that the routing names.</param>
/// <param name="With">The item that may take its place.</param>
/// <param name="Revisions">The revisions in which it may; empty: in all.</param>
/// <param name="From">The first moment at which it may be put in.</param>
/// <param name="Reason">Why.</param>
/// <param name="AuthorisedBy">Who decided.</param>
/// <remarks>It goes one way and one step: that B may replace A says nothing of A for B, nor of what may replace B.</remarks>
public sealed record Replacement(
    Guid Record, ItemNumber Replaced, ItemNumber With, ImmutableArray<RevisionCode> Revisions, DateTimeOffset From, string Reason, PersonCode AuthorisedBy)
{
    /// <summary>Whether it lets the item be put in at that moment, where a requirement of the revision asks for another one.</summary>
    public bool Lets(ItemNumber item, ComponentRequirement requirement, RevisionCode revision, DateTimeOffset at)
    {
        ArgumentNullException.ThrowIfNull(requirement);
        return With == item && From <= at && (Revisions.IsDefaultOrEmpty || Revisions.Contains(revision)) && Concerns(requirement);
    }

    /// <summary>Whether a requirement asks for what it replaces.</summary>
    public bool Concerns(ComponentRequirement requirement)
    {
        ArgumentNullException.ThrowIfNull(requirement);
        return Replaced == requirement.Item || (!requirement.Alternatives.IsDefaultOrEmpty && requirement.Alternatives.Contains(Replaced));
    }

    /// <summary>The decisions that stand among a routing's facts, by when they hold.</summary>
    internal static ImmutableArray<Replacement> Of(ImmutableArray<RecordedFact> facts)
    {
        // Of most routings there is none, and a correction of one names it.
        if (!facts.Any(f => f.Fact is ReplacementDeclared))
        {
            return [];
        }

        return
        [
            .. EffectiveFacts.Of(facts)
                .Where(f => f is { IsVoided: false, Fact: ReplacementDeclared })
                .Select(f => (f.Id, f.At, Fact: (ReplacementDeclared)f.Fact))
                .Select(f => new Replacement(
                    f.Id,
                    f.Fact.Replaced,
                    f.Fact.With,
                    f.Fact.Revisions.IsDefault ? [] : f.Fact.Revisions,
                    (f.Fact.ValidFrom ?? f.At).ToUniversalTime(),
                    f.Fact.Reason,
                    f.Fact.AuthorisedBy))
                .OrderBy(r => r.From)
                .ThenBy(r => r.Record),
        ];
    }
}
