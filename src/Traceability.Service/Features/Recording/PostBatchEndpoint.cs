using System.Text.Json;
using Traceability.Contracts;
using Traceability.Service.Http;
using Traceability.Service.Ingest;
using Traceability.Service.Security;

namespace Traceability.Service.Features.Recording;

/// <summary>POST /api/facts/batch: many facts as NDJSON, a result line for each.</summary>
internal static class PostBatchEndpoint
{
    private const string Ndjson = "application/x-ndjson";

    // Enough to fill the groups of the committer; more would only wait in memory.
    private const int UnderWayMax = 2_000;

    public static void Map(IEndpointRouteBuilder api) =>
        api.MapPost("/facts/batch", HandleAsync)
            .RequireAuthorization(Policies.Record)
            .WithName("postFacts")
            .WithTags("Facts")
            .WithSummary("Records many facts, one JSON document a line")
            .WithDescription("Each line is validated alone, stored alone and answered alone, in order: {\"line\":1,\"status\":201,\"receipt\":{…}} or {\"line\":2,\"status\":400,\"problem\":{…}}. Facts about one unit are stored in the order of the lines. Send the same batch again after a break: what was stored is answered as before.")
            .WithBodyLimit(BodyLimit.Batch)
            .Accepts<string>(Ndjson)
            .Produces<BatchLine>(StatusCodes.Status200OK, Ndjson)
            .ProducesProblem(StatusCodes.Status400BadRequest)
            .ProducesProblem(StatusCodes.Status401Unauthorized)
            .ProducesProblem(StatusCodes.Status403Forbidden)
            .ProducesProblem(StatusCodes.Status413PayloadTooLarge)
            .ProducesProblem(StatusCodes.Status415UnsupportedMediaType);

    private static async Task HandleAsync(HttpContext context, FactIntake intake, TerminalClock terminals, CancellationToken cancellation)
    {
        if (!terminals.TryRead(context.Request, out var clock, out var invalid))
        {
            await invalid!.ToProblem().ExecuteAsync(context);
            return;
        }

        // Answers wait until the request is read: a client that sends before it listens would else block, and so would we.
        var caller = Caller.Of(context);
        var answers = new MemoryStream();
        var underWay = new Queue<(int Line, Task<IngestAnswer> Answer)>();
        await foreach (var (number, line) in NdjsonLines.ReadAsync(context.Request.BodyReader, (int)BodyLimit.Fact.Bytes, cancellation))
        {
            underWay.Enqueue((number, line is { } json
                ? intake.TakeAsync(json, caller, clock, cancellation)
                : Task.FromResult<IngestAnswer>(new IngestAnswer.Refused(NdjsonLines.TooLong((int)BodyLimit.Fact.Bytes)))));
            while (underWay.Count >= UnderWayMax || underWay.TryPeek(out var first) && first.Answer.IsCompleted)
            {
                await WriteAsync(answers, underWay.Dequeue());
            }
        }

        while (underWay.Count > 0)
        {
            await WriteAsync(answers, underWay.Dequeue());
        }

        context.Response.ContentType = Ndjson;
        context.Response.ContentLength = answers.Length;
        answers.Position = 0;
        await answers.CopyToAsync(context.Response.Body, cancellation);
    }

    private static async Task WriteAsync(Stream output, (int Line, Task<IngestAnswer> Answer) pending)
    {
        // Answers are given one after the other: whoever goes on from one with more than a response must leave that thread.
        var answer = pending.Answer.IsCompleted ? await pending.Answer : await pending.Answer.ConfigureAwait(ConfigureAwaitOptions.ForceYielding);
        var line = answer switch
        {
            IngestAnswer.Recorded r => new BatchLine
            {
                Line = pending.Line,
                FactId = r.Posted.Id,
                Status = r.IsRepeat ? StatusCodes.Status200OK : StatusCodes.Status201Created,
                Receipt = Receipts.Of(r),
            },
            IngestAnswer.Refused r => new BatchLine { Line = pending.Line, Status = RefusalProblems.Status(r.Reason.Kind), Problem = Receipts.ProblemOf(r.Reason) },
            IngestAnswer.Unavailable u => new BatchLine { Line = pending.Line, Status = StatusCodes.Status503ServiceUnavailable, Problem = Receipts.ProblemOf(u) },
            _ => throw new System.Diagnostics.UnreachableException(),
        };
        JsonSerializer.Serialize(output, line, WireJson.Options);
        output.WriteByte((byte)'\n');
    }
}
