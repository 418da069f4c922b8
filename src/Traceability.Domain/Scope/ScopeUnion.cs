using Traceability.Domain.Primitives;

namespace Traceability.Domain.Scope;

/// <summary>A unit that at least one of several suspects reaches or may have reached.</summary>
/// <param name="Member">The unit, with the surest verdict, the longest time and the best way of all suspects.</param>
/// <param name="Whereabouts">Where it is now.</param>
/// <param name="By">The suspect that the best way leads to.</param>
/// <param name="Lots">The lots of all suspects that reach it, in the order of the suspects.</param>
public sealed record UnionMember(ScopeMember Member, Whereabouts Whereabouts, SuspectFactor By, ImmutableArray<LotKey> Lots);

/// <summary>The union of scopes: of the lots that one supplier's lot came in as.</summary>
/// <remarks>
/// Each suspect is judged by itself, so a use of one of two of them, when it isn't known which, stays possible though it was
/// certainly of the supplier's lot. That errs to the careful side: both verdicts make the unit a member.
/// </remarks>
public static class ScopeUnion
{
    /// <summary>The members, ordered by name (ordinal).</summary>
    public static ImmutableArray<UnionMember> Of(IReadOnlyList<(ScopeResult Scope, ImmutableArray<Whereabouts> Places)> scopes)
    {
        ArgumentNullException.ThrowIfNull(scopes);
        var found = new SortedDictionary<string, UnionMember>(StringComparer.Ordinal);
        foreach (var (scope, places) in scopes)
        {
            for (var i = 0; i < scope.Members.Length; i++)
            {
                var member = new UnionMember(scope.Members[i], places[i], scope.Factor, [scope.Factor.Lot]);
                found[member.Member.Unit] = found.TryGetValue(member.Member.Unit, out var known) ? Both(known, member) : member;
            }
        }

        return [.. found.Values];
    }

    private static UnionMember Both(UnionMember a, UnionMember b)
    {
        var (m, n) = (a.Member, b.Member);
        var best = Rank(n.Verdict, n.Now) > Rank(m.Verdict, m.Now) ? b : a;
        return best with
        {
            Member = best.Member with
            {
                Now = m.Now == ScopeVerdict.Proven || n.Now == ScopeVerdict.Proven ? ScopeVerdict.Proven : m.Now ?? n.Now,
                From = m.From is null || n.From is null ? null : m.From < n.From ? m.From : n.From,
                To = m.To is null || n.To is null ? null : m.To > n.To ? m.To : n.To,
            },
            Lots = [.. a.Lots, .. b.Lots],
        };
    }

    private static int Rank(ScopeVerdict verdict, ScopeVerdict? now) =>
        (verdict == ScopeVerdict.Proven ? 3 : 0) + now switch { ScopeVerdict.Proven => 2, ScopeVerdict.Possible => 1, _ => 0 };
}
