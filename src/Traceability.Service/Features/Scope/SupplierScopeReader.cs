using Traceability.Contracts.Scope;
using Traceability.Domain.Scope;
using Traceability.Service.Storage.Answers;

namespace Traceability.Service.Features.Scope;

/// <summary>Answers for a supplier's lot: the union over the lots that it came in as, from one snapshot of the database.</summary>
internal sealed class SupplierScopeReader(AnswerDatabase database, ScopeRunner runner)
{
    /// <summary>The scope; null if nothing was received as that lot.</summary>
    public async Task<SupplierLotScope?> FindAsync(SupplierScopeRequest request, CancellationToken cancellation)
    {
        await using var session = await database.OpenAsync(cancellation);
        if (await runner.RunAsync(session.Connection, new SuspectSupplierLot(request.SupplierLot, request.Supplier), cancellation) is not { } outcome)
        {
            return null;
        }

        var page = ScopePage.Of(outcome, request.Limit, request.After);
        var evidence = await outcome.EvidenceAsync(page.Members, cancellation);
        return new(
            request.SupplierLot,
            request.Supplier,
            [.. outcome.Found.Scopes.Cast<LotScopeResult>().Select(s => ScopeViews.Factor(s.Factor, outcome.Knowledge.Lot(s.Factor.Lot)))],
            outcome.AsOf,
            ScopeViews.Totals(outcome, (await ScopeCleared.FindAsync(outcome, null, null, cancellation)).Count),
            [.. page.Members.Select((m, i) => new SupplierLotMember(Member(m, outcome.Whereabouts[page.First + i], evidence), Lots(outcome, m)))],
            page.After,
            outcome.Completeness,
            outcome.Remarks);
    }

    private static Contracts.Scope.ScopeMember Member(FoundMember member, Whereabouts whereabouts, IReadOnlyDictionary<EvidenceKey, EvidenceRow> evidence)
    {
        // By the best way, over the time of all.
        var best = member.Best with { Member = member.Best.Member.Over(member.Now, member.From, member.To) };
        return ScopeViews.Member(best, whereabouts, evidence);
    }

    // In the order of the lots, not in that of the ways.
    private static ImmutableArray<string> Lots(ScopeOutcome outcome, FoundMember member)
    {
        var reaching = member.Ways.Select(w => ((SuspectFactor)w.Suspect).Lot).ToHashSet();
        return [.. outcome.Found.Scopes.Cast<LotScopeResult>().Select(s => s.Factor.Lot).Where(reaching.Contains).Select(l => l.ToString())];
    }
}
