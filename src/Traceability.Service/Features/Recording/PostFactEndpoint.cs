using System.Globalization;
using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Contracts;
using Traceability.Contracts.Facts;
using Traceability.Service.Http;
using Traceability.Service.Ingest;
using Traceability.Service.Security;

namespace Traceability.Service.Features.Recording;

/// <summary>POST /api/facts: one fact.</summary>
internal static class PostFactEndpoint
{
    public static void Map(IEndpointRouteBuilder api) =>
        api.MapPost("/facts", HandleAsync)
            .RequireAuthorization(Policies.Record)
            .WithName("postFact")
            .WithTags("Facts")
            .WithSummary("Records one fact")
            .WithDescription("Answers 201 when the fact is durably stored, 200 with the first answer when the same fact (id and content) was stored before. What is wrong with the work is not refused: it comes back as findings.")
            .WithBodyLimit(BodyLimit.Fact)
            .Accepts<FactMessage>("application/json")
            .Produces<FactReceipt>(StatusCodes.Status201Created)
            .Produces<FactReceipt>()
            .ProducesProblem(StatusCodes.Status400BadRequest)
            .ProducesProblem(StatusCodes.Status401Unauthorized)
            .ProducesProblem(StatusCodes.Status403Forbidden)
            .ProducesProblem(StatusCodes.Status404NotFound)
            .ProducesProblem(StatusCodes.Status409Conflict)
            .ProducesProblem(StatusCodes.Status413PayloadTooLarge)
            .ProducesProblem(StatusCodes.Status415UnsupportedMediaType)
            .ProducesProblem(StatusCodes.Status503ServiceUnavailable);

    private static async Task<Results<Created<FactReceipt>, Ok<FactReceipt>, ProblemHttpResult>> HandleAsync(
        HttpContext context, FactIntake intake, TerminalClock terminals, CancellationToken cancellation)
    {
        if (!terminals.TryRead(context.Request, out var clock, out var invalid))
        {
            return invalid!.ToProblem();
        }

        var body = await RequestBody.ReadAsync(context.Request, cancellation);
        return await intake.TakeAsync(body, Caller.Of(context), clock, cancellation) switch
        {
            IngestAnswer.Recorded { IsRepeat: false } recorded => TypedResults.Created($"/api/facts/{recorded.Posted.Id}", Receipts.Of(recorded)),
            IngestAnswer.Recorded recorded => TypedResults.Ok(Receipts.Of(recorded)),
            IngestAnswer.Refused refused => refused.Reason.ToProblem(),
            IngestAnswer.Unavailable later => Later(context, later),
            _ => throw new System.Diagnostics.UnreachableException(),
        };
    }

    private static ProblemHttpResult Later(HttpContext context, IngestAnswer.Unavailable later)
    {
        context.Response.Headers.RetryAfter = ((int)later.RetryAfter.TotalSeconds).ToString(CultureInfo.InvariantCulture);
        return Problems.Of(ProblemKind.StoreUnavailable, later.Reason);
    }
}
