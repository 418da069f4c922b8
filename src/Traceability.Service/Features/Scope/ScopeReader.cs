using Traceability.Contracts.Scope;
using Traceability.Domain.Scope;
using Traceability.Service.Storage;
using Traceability.Service.Storage.Answers;

namespace Traceability.Service.Features.Scope;

/// <summary>Answers for a suspect lot or container from one snapshot of the database: every fact acknowledged before is in it.</summary>
internal sealed class ScopeReader(AnswerDatabase database, TimeProvider clock)
{
    /// <summary>The scope; null if the lot was never received and no record names it.</summary>
    public async Task<ScopeAnswer?> FindAsync(ScopeRequest request, CancellationToken cancellation)
    {
        var asOf = clock.GetUtcNow();
        await using var session = await database.OpenAsync(cancellation);
        var connection = session.Connection;
        var completeness = await CompletenessReader.ReadAsync(connection, null, cancellation);
        var lots = await LotNaming.LoadAsync(connection, [request.Factor.Lot], cancellation);
        var lot = lots.GetValueOrDefault(request.Factor.Lot);
        var source = new SqlScopeSource(connection);
        var scope = await ScopeWalk.RunAsync(
            request.Factor, LotPresence.Of(request.Factor, lot), LotCarrier.Of(request.Factor, lots), source, cancellation);
        if (lot is null && !scope.IsLotNamed)
        {
            return null;
        }

        var whereabouts = await scope.LocateAsync(source, cancellation);
        string[] members = [.. scope.Members.Select(m => m.Unit)];
        var cleared = await source.CountClearedAsync(scope.Clearing, members, cancellation);
        var page = Page(scope, request);
        var evidence = await source.EvidenceAsync([.. page.SelectMany(i => ScopeWords.Keys(scope.Members[i].Best))], cancellation);
        var clearedUnits = request.WithCleared
            ? await source.ClearedAsync(scope.Clearing, members, request.ClearedAfter, request.Limit + 1, cancellation)
            : null;
        var isLast = page.Count == 0 || page[^1] == scope.Members.Length - 1;
        return new(
            ScopeViews.Factor(request.Factor, lot),
            asOf,
            ScopeViews.Totals(scope.Members, whereabouts, cleared),
            [.. page.Select(i => ScopeViews.Member(request.Factor, scope.Members[i], whereabouts[i], evidence))],
            isLast ? null : scope.Members[page[^1]].Unit,
            clearedUnits is null ? null : [.. clearedUnits.Take(request.Limit).Select(ScopeViews.Cleared)],
            clearedUnits?.Count > request.Limit ? clearedUnits[request.Limit - 1].Unit : null,
            [.. scope.Presence.Windows.Select(ScopeViews.Presence)],
            completeness,
            ScopeViews.Remarks(scope, lot, completeness));
    }

    private static List<int> Page(ScopeResult scope, ScopeRequest request)
    {
        var members = scope.Members;
        var first = 0;
        if (request.After is { } after)
        {
            while (first < members.Length && string.CompareOrdinal(members[first].Unit, after) <= 0)
            {
                first++;
            }
        }

        return [.. Enumerable.Range(first, Math.Min(request.Limit, members.Length - first))];
    }
}
