using Traceability.Contracts.Facts;
using Traceability.Contracts.Lots;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Http;

/// <summary>How the mass balance of a lot is answered.</summary>
internal static class LotBalanceViews
{
    /// <summary>The balance of a lot.</summary>
    public static LotBalanceView Of(LotKey key, LotBalance b) => new(
        key.Item.Value,
        key.Lot.Value,
        b.AsOf,
        b.Unit,
        b.Received,
        b.MergedIn,
        b.Corrected,
        b.SplitOff,
        b.Discarded,
        b.UsedLeast,
        b.UsedMost,
        b.OnHand,
        b.UnexplainedLeast,
        b.UnexplainedMost,
        b.LeastPerUnit is { } least ? new QuantityValue { Value = least.Value, Unit = least.Unit } : null,
        b.UnitsMost,
        b.Obstacles);
}
