using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Contracts.Tools;
using Traceability.Domain.Primitives;
using Traceability.Domain.Tools;
using Traceability.Service.Http;
using Traceability.Service.Http.Querying;
using Traceability.Service.Storage.Answers;

namespace Traceability.Service.Features.Tools;

/// <summary>GET /api/tools/{tool}/drift.</summary>
internal static class GetToolDriftEndpoint
{
    /// <summary>The parameters, for the contract; <see cref="QueryReader"/> reads them.</summary>
    /// <param name="Setting">The setting whose checks are charted. Default: checks of the tool as a whole.</param>
    /// <param name="From">Only checks at this time (RFC 3339 with offset) or later. Default: from the first on.</param>
    /// <param name="To">Only checks before this time. Default: to the last.</param>
    internal sealed record Query(string? Setting, string? From, string? To);

    public static async Task<Results<Ok<ToolDriftView>, ProblemHttpResult>> HandleAsync(
        string tool, [AsParameters] Query query, HttpRequest request, AnswerDatabase database, CancellationToken cancellation)
    {
        _ = query;
        var path = new PathCodes();
        var number = path.Read<ToolNumber>("tool", tool);
        var reader = new QueryReader(request.Query);
        var setting = reader.Code<Code>("setting");
        var from = reader.Time("from");
        var to = reader.Time("to");
        if (from >= to)
        {
            reader.Note("to", "is not after from.");
        }

        if ((path.Refusal ?? reader.Finish()) is { } refusal)
        {
            return refusal.ToProblem();
        }

        await using var session = await database.OpenAsync(cancellation);
        return await KnownTool.FindAsync(session.Connection, number, cancellation) is { } known
            ? TypedResults.Ok(ToolViews.Drift(known, setting, ToolDrift.Of(known.Tool, setting, from, to)))
            : KnownTool.Unknown(tool);
    }
}
