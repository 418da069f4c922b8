using Traceability.Contracts.Scope;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;
using Traceability.Service.Storage;
using Traceability.Service.Storage.Answers;

namespace Traceability.Service.Features.Scope;

/// <summary>Answers for a supplier's lot: the union over the lots that it came in as, from one snapshot of the database.</summary>
internal sealed class SupplierScopeReader(AnswerDatabase database, TimeProvider clock)
{
    /// <summary>The scope; null if nothing was received as that lot.</summary>
    public async Task<SupplierLotScope?> FindAsync(SupplierScopeRequest request, CancellationToken cancellation)
    {
        var asOf = clock.GetUtcNow();
        await using var session = await database.OpenAsync(cancellation);
        var connection = session.Connection;
        var completeness = await CompletenessReader.ReadAsync(connection, null, cancellation);
        var named = await LotNaming.OfSupplierLotAsync(connection, request.SupplierLot, cancellation);
        var lots = await LotNaming.LoadAsync(connection, named, cancellation);
        LotKey[] own = [.. named.Where(k => lots.GetValueOrDefault(k)?.Received is { } r
            && string.Equals(r.SupplierLot, request.SupplierLot, StringComparison.Ordinal)
            && (request.Supplier is null || string.Equals(r.Supplier, request.Supplier, StringComparison.Ordinal)))];
        if (own.Length == 0)
        {
            return null;
        }

        var source = new SqlScopeSource(connection);
        var scopes = new List<(ScopeResult Scope, ImmutableArray<Whereabouts> Places)>();
        foreach (var key in own)
        {
            var factor = new SuspectLot(key);
            var scope = await ScopeWalk.RunAsync(factor, LotPresence.Of(factor, lots[key]), LotCarrier.Of(factor, lots), source, cancellation);
            scopes.Add((scope, await scope.LocateAsync(source, cancellation)));
        }

        var union = ScopeUnion.Of(scopes);
        var page = Page(union, request);
        var evidence = await source.EvidenceAsync([.. page.SelectMany(m => ScopeWords.Keys(m.Member.Best))], cancellation);
        return new(
            request.SupplierLot,
            request.Supplier,
            [.. own.Select(k => ScopeViews.Factor(new SuspectLot(k), lots[k]))],
            asOf,
            ScopeViews.Totals([.. union.Select(m => m.Member)], [.. union.Select(m => m.Whereabouts)], await CountClearedAsync(scopes, union, source, cancellation)),
            [.. page.Select(m => new SupplierLotMember(ScopeViews.Member(m.By, m.Member, m.Whereabouts, evidence), [.. m.Lots.Select(l => l.ToString())]))],
            page.Length == 0 || page[^1] == union[^1] ? null : page[^1].Member.Unit,
            completeness,
            [.. scopes.SelectMany(s => ScopeViews.Remarks(s.Scope, lots[s.Scope.Factor.Lot], completeness)).Distinct(StringComparer.Ordinal)]);
    }

    // A unit that the records clear of two of the lots is one unit.
    private static async Task<int> CountClearedAsync(
        List<(ScopeResult Scope, ImmutableArray<Whereabouts> Places)> scopes, ImmutableArray<UnionMember> union, SqlScopeSource source, CancellationToken cancellation)
    {
        string[] members = [.. union.Select(m => m.Member.Unit)];
        if (scopes.Count == 1)
        {
            return await source.CountClearedAsync(scopes[0].Scope.Clearing, members, cancellation);
        }

        var cleared = new HashSet<string>(StringComparer.Ordinal);
        foreach (var (scope, _) in scopes)
        {
            cleared.UnionWith((await source.ClearedAsync(scope.Clearing, members, null, int.MaxValue, cancellation)).Select(c => c.Unit));
        }

        return cleared.Count;
    }

    private static UnionMember[] Page(ImmutableArray<UnionMember> union, SupplierScopeRequest request) =>
        [.. union.Where(m => request.After is null || string.CompareOrdinal(m.Member.Unit, request.After) > 0).Take(request.Limit)];
}
