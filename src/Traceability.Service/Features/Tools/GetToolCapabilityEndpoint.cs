using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Contracts.Tools;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Storage.Answers;

namespace Traceability.Service.Features.Tools;

/// <summary>GET /api/tools/{tool}/capability.</summary>
internal static class GetToolCapabilityEndpoint
{
    public static async Task<Results<Ok<ToolCapabilityView>, ProblemHttpResult>> HandleAsync(
        string tool, AnswerDatabase database, CancellationToken cancellation)
    {
        var path = new PathCodes();
        var number = path.Read<ToolNumber>("tool", tool);
        if (path.Refusal is { } refusal)
        {
            return refusal.ToProblem();
        }

        await using var session = await database.OpenAsync(cancellation);
        return await KnownTool.FindAsync(session.Connection, number, cancellation) is { } known
            ? TypedResults.Ok(ToolViews.Capability(known))
            : KnownTool.Unknown(tool);
    }
}
