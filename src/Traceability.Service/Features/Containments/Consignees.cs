using Npgsql;
using Traceability.Contracts.Containments;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Containments;

/// <summary>Tells which consignee has which members, and by which shipment.</summary>
internal static class Consignees
{
    /// <summary>The consignees of members that are shipped, in the members' order.</summary>
    public static async Task<IReadOnlyList<ConsigneeView>> OfAsync(NpgsqlConnection connection, IReadOnlyCollection<MemberRow> shipped, CancellationToken cancellation)
    {
        var shipments = await ShipmentsAsync(connection, [.. shipped.Select(m => m.Top).Distinct()], cancellation);
        return
        [
            .. shipped.GroupBy(m => m.Consignee ?? string.Empty, StringComparer.Ordinal).Select(g => new ConsigneeView(g.Key, [.. g.Select(m => new ConsignedMember(
                MemberRow.Reference(m.Unit),
                MemberRow.Reference(m.Top),
                shipments.GetValueOrDefault(m.Top)?.At ?? m.Since,
                shipments.GetValueOrDefault(m.Top)?.OrderReference,
                m.Verdict,
                m.Outcome))])),
        ];
    }

    // The last shipment that counts: it is where the unit is.
    private static async Task<Dictionary<UnitKey, UnitShipped>> ShipmentsAsync(NpgsqlConnection connection, UnitKey[] units, CancellationToken cancellation)
    {
        var found = new Dictionary<UnitKey, UnitShipped>();
        foreach (var (stream, facts) in await EventReader.LoadAsync(connection, [.. units.Select(StreamNames.Of)], cancellation))
        {
            if (EffectiveFacts.Of(facts).LastOrDefault(f => f is { IsVoided: false, Fact: UnitShipped })?.Fact is UnitShipped last)
            {
                found[UnitKey.Parse(stream[StreamNames.UnitPrefix.Length..])] = last;
            }
        }

        return found;
    }
}
