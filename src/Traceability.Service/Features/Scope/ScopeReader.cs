using Traceability.Contracts.Scope;
using Traceability.Domain.Scope;
using Traceability.Service.Storage.Answers;

namespace Traceability.Service.Features.Scope;

/// <summary>Answers for a suspect lot or container from one snapshot of the database: every fact acknowledged before is in it.</summary>
internal sealed class ScopeReader(AnswerDatabase database, ScopeRunner runner)
{
    /// <summary>The scope; null if the lot was never received and no record names it.</summary>
    public async Task<ScopeAnswer?> FindAsync(ScopeRequest request, CancellationToken cancellation)
    {
        await using var session = await database.OpenAsync(cancellation);
        if (await runner.RunAsync(session.Connection, request.Factor, cancellation) is not { } outcome)
        {
            return null;
        }

        var cleared = await ScopeCleared.FindAsync(outcome, request.WithCleared ? request.Limit : null, request.ClearedAfter, cancellation);
        var page = ScopePage.Of(outcome, request.Limit, request.After);
        var evidence = await outcome.EvidenceAsync(page.Members, cancellation);
        return new(
            ScopeViews.Factor(request.Factor, outcome.Knowledge.Lot(request.Factor.Lot)),
            outcome.AsOf,
            ScopeViews.Totals(outcome, cleared.Count),
            [.. page.Members.Select((m, i) => ScopeViews.Member(m.Best, outcome.Whereabouts[page.First + i], evidence))],
            page.After,
            cleared.Units is null ? null : [.. cleared.Units.Value.Select(ScopeViews.Cleared)],
            cleared.After,
            [.. ((LotScopeResult)outcome.Found.Scopes[0]).Presence.Windows.Select(ScopeViews.Presence)],
            outcome.Completeness,
            outcome.Remarks);
    }
}
