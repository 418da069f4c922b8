using Traceability.Contracts;
using Traceability.Domain.Scope;

namespace Traceability.Service.Features.Scope;

/// <summary>What a question for a scope found, from one snapshot; good while the snapshot's connection is open.</summary>
/// <param name="AsOf">The moment of asking: every fact acknowledged before the snapshot was taken is in it.</param>
/// <param name="Found">What was found.</param>
/// <param name="Whereabouts">Where each member is now, in their order.</param>
/// <param name="Completeness">What may be missing from the answer.</param>
/// <param name="Remarks">What a reader must know of the answer, in words.</param>
internal sealed record ScopeOutcome(
    DateTimeOffset AsOf, ScopeFound Found, ImmutableArray<Whereabouts> Whereabouts, Completeness Completeness, ImmutableArray<string> Remarks)
{
    /// <summary>What else was known.</summary>
    public required ScopeKnowledge Knowledge { get; init; }

    /// <summary>The units, ordered by name (ordinal).</summary>
    public ImmutableArray<FoundMember> Members => Found.Members;

    /// <summary>What the rows say that the ways of these members consist of.</summary>
    public ValueTask<IReadOnlyDictionary<EvidenceKey, EvidenceRow>> EvidenceAsync(IEnumerable<FoundMember> members, CancellationToken cancellation) =>
        Found.Genealogy.Source.EvidenceAsync([.. members.SelectMany(m => m.Ways).SelectMany(w => ScopeWords.Keys(w.Member.Best))], cancellation);

    /// <summary>Why the unit is a member, in sentences for a person.</summary>
    public static string Reason(FoundMember member, IReadOnlyDictionary<EvidenceKey, EvidenceRow> evidence) => ScopeWords.Reason(member, evidence);

    /// <summary>Where a page starts in the members.</summary>
    /// <param name="after">Only members after this one, as item/serial; null: from the first.</param>
    public int FirstAfter(string? after)
    {
        var (low, high) = (0, after is null ? 0 : Members.Length);
        while (low < high)
        {
            var middle = (low + high) / 2;
            (low, high) = string.CompareOrdinal(Members[middle].Unit, after) <= 0 ? (middle + 1, high) : (low, middle);
        }

        return low;
    }
}
