using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Contracts.Revisions;
using Traceability.Domain.Primitives;
using Traceability.Domain.Routings;
using Traceability.Service.Http;
using Traceability.Service.Http.Querying;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Revisions;

/// <summary>GET /api/routings/{item}/differences.</summary>
internal static class GetDifferencesEndpoint
{
    /// <summary>The parameters, for the contract; <see cref="QueryReader"/> reads them.</summary>
    /// <param name="From">The first revision, released or a draft.</param>
    /// <param name="To">The second revision, released or a draft.</param>
    internal sealed record Query(string? From, string? To);

    public static async Task<Results<Ok<RevisionDifference>, ProblemHttpResult>> HandleAsync(
        string item, [AsParameters] Query query, HttpRequest request, RoutingReader routings, CancellationToken cancellation)
    {
        _ = query;
        var path = new PathCodes();
        var number = path.Read<ItemNumber>("item", item);
        var reader = new QueryReader(request.Query);
        var (first, second) = (reader.RequiredCode<RevisionCode>("from"), reader.RequiredCode<RevisionCode>("to"));
        if ((path.Refusal ?? reader.Finish()) is { } refusal)
        {
            return refusal.ToProblem();
        }

        if (await routings.FindAsync(number, cancellation) is not { } routing)
        {
            return RoutingReader.Unknown(number).ToProblem();
        }

        if (routing.Find(first) is not { } from)
        {
            return RoutingReader.Unknown(number, first, "from", "Revision").ToProblem();
        }

        return routing.Find(second) is { } to
            ? TypedResults.Ok(new RevisionDifference(number.Value, first.Value, second.Value, [.. RevisionDifferences.Between(from, to).Select(View)]))
            : RoutingReader.Unknown(number, second, "to", "Revision").ToProblem();
    }

    private static RevisionChangeView View(RevisionChange change) => new(
        EnumNames<ChangeKind>.Of(change.Kind),
        EnumNames<RevisionPart>.Of(change.Part),
        change.Step?.Value,
        change.Code,
        change.Member,
        change.From,
        change.To,
        change.Sentence);
}
