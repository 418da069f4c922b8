using Npgsql;
using Traceability.Domain.Judging;
using Traceability.Domain.Lots;
using Traceability.Domain.Scope;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Scope.Reconciling;

/// <summary>Sets a lot's mass balance beside its scope.</summary>
internal static class LotReconciliations
{
    /// <summary>The reconciliation of a whole lot.</summary>
    /// <param name="snapshot">The connection that the scope was found by.</param>
    /// <param name="found">What was found for it.</param>
    /// <param name="scope">Its scope.</param>
    /// <param name="knowledge">What the scope was found with.</param>
    /// <param name="unreadableUnits">Units that are touched by something that can't be read.</param>
    /// <param name="cancellation">Stops it.</param>
    public static async Task<LotReconciliation> ReadAsync(
        NpgsqlConnection snapshot, ScopeFound found, LotScopeResult scope, ScopeKnowledge knowledge, int unreadableUnits, CancellationToken cancellation)
    {
        var key = scope.Factor.Lot;
        var lot = knowledge.Lot(key) ?? Lot.Of(key, []);
        var balance = await LotBalances.ReadAsync(snapshot, lot, knowledge.FamilyOf(key).Values, withRoutings: true, cancellation);
        return await OfAsync(snapshot, found.Genealogy.Source, balance, scope, unreadableUnits, lot, cancellation);
    }

    /// <summary>
    /// The warning that the scope of a whole lot can't be complete, by what is unexplained of it; null where nothing is, or it can't be told:
    /// the lot was never counted and is not emptied.
    /// </summary>
    public static async Task<string?> WarningAsync(
        NpgsqlConnection snapshot, ScopeFound found, LotScopeResult scope, ScopeKnowledge knowledge, CancellationToken cancellation)
    {
        if (scope.Factor is not SuspectLot { Filter.IsNone: true } factor || knowledge.Lot(factor.Lot) is not { Origin: not null } lot || LotBalance.MomentOf(lot) is null)
        {
            return null;
        }

        var balance = await LotBalances.ReadAsync(snapshot, lot, knowledge.FamilyOf(lot.Key).Values, withRoutings: false, cancellation);
        if (balance.UnexplainedMost is null or 0)
        {
            return null;
        }

        var warnings = (await OfAsync(snapshot, found.Genealogy.Source, balance, scope, 0, lot, cancellation)).Warnings();
        return warnings.FirstOrDefault(w => w.Code is LotReconciliation.BeyondScope or LotReconciliation.Overdrawn)?.Detail;
    }

    private static async Task<LotReconciliation> OfAsync(
        NpgsqlConnection snapshot, IScopeSource source, LotBalance balance, LotScopeResult scope, int unreadableUnits, Lot lot, CancellationToken cancellation)
    {
        var presence = scope.Presence;
        var direct = await source.DirectAsync(lot.Key, presence.From, presence.To, cancellation);
        var open = direct.Usages.Where(u => u.IsOneOf).Select(u => u.Unit)
            .Concat(direct.Gaps.Where(g => g.Kind != GapKind.Container && presence.CouldBeUsed(g.From, g.To, g.Station)).Select(g => g.Unit))
            .ToHashSet(StringComparer.Ordinal);
        var proven = scope.Members.Count(m => m.Verdict == ScopeVerdict.Proven);
        return new(
            lot.Key,
            balance,
            LotUsePerUnit.Of(await LotBalances.PerUnitAsync(snapshot, lot.Key, cancellation), balance.Unit),
            new(
                lot.Origin is not null,
                presence.Doubt == PresenceDoubt.Unreadable,
                unreadableUnits,
                await LotBalances.CountWithoutQuantityAsync(snapshot, lot.Key, cancellation),
                proven,
                scope.Members.Length - proven,
                open.Count));
    }
}
