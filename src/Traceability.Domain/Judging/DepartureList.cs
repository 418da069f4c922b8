using Traceability.Domain.ProductUnits;

namespace Traceability.Domain.Judging;

/// <summary>A unit left to a consignee.</summary>
/// <param name="Consignee">To whom.</param>
/// <param name="OrderReference">Under which order; null where none was named.</param>
/// <param name="Shipment">The shipment of several units that it left with; null where it was reported alone.</param>
/// <param name="Record">The fact.</param>
/// <param name="At">When.</param>
/// <param name="ReturnedAt">When it came back after that and before it left again; null while it is not recorded as back.</param>
public sealed record Departure(string Consignee, string? OrderReference, Guid? Shipment, Guid Record, DateTimeOffset At, DateTimeOffset? ReturnedAt);

/// <summary>To whom a unit left, and whether it came back.</summary>
internal static class DepartureList
{
    public static ImmutableArray<Departure> Of(UnitHistory history)
    {
        List<Departure>? departures = null;
        foreach (var fact in history.Facts)
        {
            if (fact is { IsVoided: false, Fact: UnitShipped shipped })
            {
                (departures ??= []).Add(new(shipped.Consignee, shipped.OrderReference, shipped.Shipment, fact.Id, fact.At.ToUniversalTime(), null));
            }
            else if (fact is { IsVoided: false, Fact: UnitReturned } && departures is [.., { ReturnedAt: null } last])
            {
                departures[^1] = last with { ReturnedAt = fact.At.ToUniversalTime() };
            }
        }

        return departures is null ? [] : [.. departures];
    }
}
