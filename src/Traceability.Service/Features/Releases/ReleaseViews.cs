using Traceability.Contracts.Facts;
using Traceability.Contracts.Units;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Features.Releases;

/// <summary>Turns what is lacking into what is answered.</summary>
internal static class ReleaseViews
{
    public static UnitRef Reference(UnitKey key) => new() { Item = key.Item.Value, Serial = key.Serial.Value };

    public static BlockerView Of(ReleaseBlocker blocker) =>
        new(Reference(blocker.Unit), blocker.Code, blocker.Step?.Value, blocker.Rule, blocker.Record, blocker.Detail);
}
