using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Contracts.Tools;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Storage.Answers;

namespace Traceability.Service.Features.Tools;

/// <summary>GET /api/tools/{tool}/life.</summary>
internal static class GetToolLifeEndpoint
{
    public static async Task<Results<Ok<ToolLifeView>, ProblemHttpResult>> HandleAsync(
        string tool, AnswerDatabase database, TimeProvider clock, CancellationToken cancellation)
    {
        var path = new PathCodes();
        var number = path.Read<ToolNumber>("tool", tool);
        if (path.Refusal is { } refusal)
        {
            return refusal.ToProblem();
        }

        await using var session = await database.OpenAsync(cancellation);
        return await KnownTool.FindAsync(session.Connection, number, cancellation) is { } known
            ? TypedResults.Ok(ToolViews.Life(known, clock.GetUtcNow()))
            : KnownTool.Unknown(tool);
    }
}
