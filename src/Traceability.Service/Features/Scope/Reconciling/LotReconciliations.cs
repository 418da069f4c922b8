using Npgsql;
using Traceability.Domain.Judging;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Scope.Reconciling;

/// <summary>Sets a lot's mass balance beside its scope.</summary>
internal static class LotReconciliations
{
    /// <summary>The reconciliation of a whole lot.</summary>
    /// <param name="snapshot">The connection that the scope was found by.</param>
    /// <param name="scope">Its scope.</param>
    /// <param name="knowledge">What the scope was found with.</param>
    /// <param name="unreadableUnits">Units that are touched by something that can't be read.</param>
    /// <param name="cancellation">Stops it.</param>
    public static async Task<LotReconciliation> ReadAsync(
        NpgsqlConnection snapshot, LotScopeResult scope, ScopeKnowledge knowledge, int unreadableUnits, CancellationToken cancellation)
    {
        var key = scope.Factor.Lot;
        var lot = knowledge.Lot(key) ?? Lot.Of(key, []);
        var balance = Balance(lot, knowledge, scope, await LotBalances.LeastPerUnitAsync(snapshot, key.Item, cancellation));
        return Of(balance, scope, unreadableUnits, lot);
    }

    /// <summary>
    /// The warning that the scope of a whole lot can't be complete, by what is unexplained of it; null where nothing is, or it can't be told:
    /// the lot was never counted and is not emptied.
    /// </summary>
    public static string? Warning(LotScopeResult scope, ScopeKnowledge knowledge)
    {
        if (scope.Factor is not SuspectLot { Filter.IsNone: true } factor || knowledge.Lot(factor.Lot) is not { Origin: not null } lot || LotBalance.MomentOf(lot) is null)
        {
            return null;
        }

        var balance = Balance(lot, knowledge, scope, leastPerUnit: null);
        if (balance.UnexplainedMost is null or 0)
        {
            return null;
        }

        return Of(balance, scope, 0, lot).Warnings().FirstOrDefault(w => w.Code is LotReconciliation.BeyondScope or LotReconciliation.Overdrawn)?.Detail;
    }

    private static LotBalance Balance(Lot lot, ScopeKnowledge knowledge, LotScopeResult scope, EnteredQuantity? leastPerUnit) => LotBalances.Of(
        lot, knowledge.FamilyOf(lot.Key).Values, LotUses.Until(scope.Direct.Usages, LotBalance.MomentOf(lot) ?? DateTimeOffset.MaxValue), leastPerUnit);

    private static LotReconciliation Of(LotBalance balance, LotScopeResult scope, int unreadableUnits, Lot lot)
    {
        var (usages, gaps) = scope.Direct;
        var open = usages.Where(u => u.IsOneOf).Select(u => u.Unit)
            .Concat(gaps.Where(g => g.Kind != GapKind.Container && scope.Presence.CouldBeUsed(g.From, g.To, g.Station)).Select(g => g.Unit))
            .ToHashSet(StringComparer.Ordinal);
        var proven = scope.Members.Count(m => m.Verdict == ScopeVerdict.Proven);
        return new(
            lot.Key,
            balance,
            LotUsePerUnit.Of(LotUses.PerUnit(usages), balance.Unit),
            new(
                lot.Origin is not null,
                scope.Presence.Doubt == PresenceDoubt.Unreadable,
                unreadableUnits,
                LotUses.CountWithoutQuantity(usages),
                proven,
                scope.Members.Length - proven,
                open.Count));
    }
}
