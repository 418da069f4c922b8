using System.Text.Json;
using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Contracts;
using Traceability.Contracts.Revisions;
using Traceability.Domain.Primitives;
using Traceability.Domain.Routings;
using Traceability.Service.Http;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Revisions;

/// <summary>GET /api/routings/{item}/effectivity.</summary>
internal static class GetEffectivityEndpoint
{
    public static async Task<Results<Ok<RoutingEffectivity>, ProblemHttpResult>> HandleAsync(string item, RoutingReader routings, CancellationToken cancellation)
    {
        var path = new PathCodes();
        var number = path.Read<ItemNumber>("item", item);
        if (path.Refusal is { } refusal)
        {
            return refusal.ToProblem();
        }

        if (await routings.FindAsync(number, cancellation) is not { } routing)
        {
            return RoutingReader.Unknown(number).ToProblem();
        }

        var overlaps = EffectivityOverlaps.Of(routing);
        return TypedResults.Ok(new RoutingEffectivity(
            number.Value,
            [.. routing.Released.Select(r => new RevisionEffectivity(
                r.Revision.Value, RoutingWords.Effective(r.Effectivity), Wire(r.Effectivity), overlaps.Any(o => o.Earlier == r.Revision && o.IsWhole)))],
            [.. overlaps.Select(o => new RevisionOverlap(o.Earlier.Value, o.Later.Value, RoutingWords.Effective(o.Where), o.IsWhole))]));
    }

    // The stored form is the wire form.
    private static Contracts.Facts.Effectivity Wire(Effectivity effectivity) =>
        JsonSerializer.Deserialize<Contracts.Facts.Effectivity>(JsonSerializer.Serialize(effectivity, EventJson.Options), WireJson.Options)!;
}
