using System.Text.Json;
using System.Threading.Channels;
using Microsoft.Extensions.Options;
using Traceability.Contracts;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Ingest;
using Traceability.Service.Ingest.Bulk;
using Traceability.Service.Security;

namespace Traceability.Service.Features.History;

/// <summary>POST /api/history: facts of the past as NDJSON, a file of any length.</summary>
internal static class PostHistoryEndpoint
{
    private const string Ndjson = "application/x-ndjson";

    public static void Map(IEndpointRouteBuilder api) =>
        api.MapPost("/history", HandleAsync)
            .RequireAuthorization(Policies.Administer)
            .WithName("postHistory")
            .WithTags("Facts")
            .WithSummary("Imports facts of the past, one JSON document a line")
            .WithDescription("Each line is validated as a single post is. Facts are stored in chunks, in the order of the lines; units are judged once for each chunk. The answer is NDJSON: a line with counts whenever a chunk is durable, then a line for each fact that was not stored, then the last counts. Send the same file again after a break: what is there is passed over. Sent-At is not looked at: what the clocks of back then showed is not known, so times count with the uncertainty of an unmeasured clock.")
            .WithMetadata(new UnlimitedBody())
            .Accepts<string>(Ndjson)
            .Produces<HistoryLine>(StatusCodes.Status200OK, Ndjson)
            .ProducesProblem(StatusCodes.Status401Unauthorized)
            .ProducesProblem(StatusCodes.Status403Forbidden)
            .ProducesProblem(StatusCodes.Status415UnsupportedMediaType);

    private static async Task HandleAsync(
        HttpContext context,
        HistoryImporter importer,
        TerminalClock terminals,
        IOptions<HistoryOptions> options,
        IOptions<ClockOptions> clocks,
        CancellationToken cancellation)
    {
        context.Response.ContentType = Ndjson;
        var sender = Caller.Of(context).Name;
        var clock = new ClockReading(TimeSpan.Zero, clocks.Value.UnmeasuredUncertainty, Doubtful: false);
        var chunks = Channel.CreateBounded<List<HistoryEntry>>(1);
        using var stopping = CancellationTokenSource.CreateLinkedTokenSource(cancellation);

        // The next chunk is read and checked while the database takes this one.
        var reading = Task.Run(
            async () =>
            {
                try
                {
                    await foreach (var chunk in new HistoryChunks(terminals, options.Value.ChunkMax).ReadAsync(context.Request.BodyReader, sender, clock, stopping.Token))
                    {
                        await chunks.Writer.WriteAsync(chunk, stopping.Token);
                    }

                    chunks.Writer.Complete();
                }
                catch (Exception exception)
                {
                    chunks.Writer.Complete(exception);
                }
            },
            CancellationToken.None);
        try
        {
            await ImportAsync(context.Response, importer, chunks.Reader, options.Value.RefusalsToldMax, cancellation);
        }
        finally
        {
            await stopping.CancelAsync();
            await reading;
        }
    }

    private static async Task ImportAsync(
        HttpResponse response, HistoryImporter importer, ChannelReader<List<HistoryEntry>> chunks, int toldMax, CancellationToken cancellation)
    {
        var counts = new HistoryCounts(0, 0, 0, 0, IsComplete: false);
        List<HistoryLine> refused = [];
        var isBroken = false;
        await importer.ImportAsync(
            chunks.ReadAllAsync(cancellation),
            chunk => [.. chunk.Where(e => e.Refusal is null).Select(e => e.Fact!)],
            async (chunk, answers) =>
            {
                var next = 0;
                foreach (var entry in chunk)
                {
                    var answer = entry.Refusal is { } refusal ? new IngestAnswer.Refused(refusal) : answers[next++];
                    counts = Count(counts with { Lines = entry.Line }, answer);
                    isBroken |= answer is IngestAnswer.Unavailable;
                    if (refused.Count < toldMax && LineOf(entry, answer) is { } line)
                    {
                        refused.Add(line);
                    }
                }

                // What comes after facts that could not be stored may rest on them.
                await TellAsync(response, isBroken ? [.. refused, new() { Counts = counts }] : [new() { Counts = counts }], cancellation);
                return !isBroken;
            },
            cancellation);
        if (!isBroken)
        {
            // Not before the file is read: a client that listens when it has sent all would else block, and so would we.
            await TellAsync(response, [.. refused, new() { Counts = counts with { IsComplete = true } }], cancellation);
        }
    }

    private static HistoryCounts Count(HistoryCounts counts, IngestAnswer answer) => answer switch
    {
        IngestAnswer.Recorded { IsRepeat: false } => counts with { Recorded = counts.Recorded + 1 },
        IngestAnswer.Recorded => counts with { Repeats = counts.Repeats + 1 },
        _ => counts with { Refused = counts.Refused + 1 },
    };

    private static HistoryLine? LineOf(HistoryEntry entry, IngestAnswer answer)
    {
        var problem = answer switch
        {
            IngestAnswer.Refused r => ProblemOf(r.Reason),
            IngestAnswer.Unavailable u => new Problem
            {
                Type = $"/problems/{ProblemKind.StoreUnavailable.Code}",
                Title = ProblemKind.StoreUnavailable.Title,
                Status = ProblemKind.StoreUnavailable.Status,
                Detail = u.Reason,
                Code = ProblemKind.StoreUnavailable.Code,
            },
            _ => null,
        };
        return problem is null ? null : new() { Line = entry.Line, FactId = entry.Fact?.Id, Status = problem.Status, Problem = problem };
    }

    private static Problem ProblemOf(Refusal refusal) => new()
    {
        Type = $"/problems/{refusal.Code}",
        Title = RefusalProblems.Title(refusal.Kind),
        Status = RefusalProblems.Status(refusal.Kind),
        Detail = refusal.Detail,
        Code = refusal.Code,
        Errors = [.. refusal.Faults.Select(f => new ProblemError { Pointer = f.Pointer, Detail = f.Detail })],
    };

    private static async Task TellAsync(HttpResponse response, List<HistoryLine> lines, CancellationToken cancellation)
    {
        foreach (var line in lines)
        {
            await JsonSerializer.SerializeAsync(response.Body, line, WireJson.Options, cancellation);
            await response.Body.WriteAsync("\n"u8.ToArray(), cancellation);
        }

        await response.Body.FlushAsync(cancellation);
    }

    // A file of history may have any length: it is read in chunks.
    private sealed class UnlimitedBody : Microsoft.AspNetCore.Http.Metadata.IRequestSizeLimitMetadata
    {
        public long? MaxRequestBodySize => null;
    }
}
