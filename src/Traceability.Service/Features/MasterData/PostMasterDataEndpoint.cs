using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Contracts;
using Traceability.Domain.Facts;
using Traceability.Domain.Items;
using Traceability.Domain.Lots;
using Traceability.Domain.People;
using Traceability.Domain.Routings;
using Traceability.Domain.Sites;
using Traceability.Domain.Tools;
using Traceability.Service.Http;
using Traceability.Service.Ingest;
using Traceability.Service.Security;

namespace Traceability.Service.Features.MasterData;

/// <summary>POST /api/master-data: a whole file of definitions, or a dry run of it.</summary>
internal static class PostMasterDataEndpoint
{
    private const string Yaml = "application/yaml";
    private const string Json = "application/json";
    private const string Code = "master-data-malformed";

    public static void Map(IEndpointRouteBuilder api) =>
        api.MapPost("/master-data", HandleAsync)
            .RequireAuthorization(Policies.Define)
            .WithName("postMasterData")
            .WithTags("Master data")
            .WithSummary("Records a file of master data")
            .WithDescription("Takes one file, YAML or JSON, with the sections sites, stations, defects, items, people, tools, lots, routings and replacements. With dryRun=true nothing is recorded; every error is listed with its line. The same file again changes nothing.")
            .WithBodyLimit(BodyLimit.MasterData)
            .Accepts<string>(Yaml, Json)
            .Produces<MasterDataReceipt>()
            .ProducesProblem(StatusCodes.Status400BadRequest)
            .ProducesProblem(StatusCodes.Status401Unauthorized)
            .ProducesProblem(StatusCodes.Status403Forbidden)
            .ProducesProblem(StatusCodes.Status409Conflict)
            .ProducesProblem(StatusCodes.Status413PayloadTooLarge)
            .ProducesProblem(StatusCodes.Status503ServiceUnavailable);

    private static async Task<Results<Ok<MasterDataReceipt>, ProblemHttpResult>> HandleAsync(
        HttpContext context, MasterDataStore store, IIngest ingest, CancellationToken cancellation, bool dryRun = false)
    {
        var body = await RequestBody.ReadAsync(context.Request, cancellation);
        var isKnown = await store.NamesAsync(cancellation);
        var reading = MasterDataFile.Read(body.Span, isKnown);
        if (!reading.Errors.IsEmpty)
        {
            return Problem(StatusCodes.Status400BadRequest, "The file has errors, so nothing of it is recorded. Each is listed with its place.", reading.Errors);
        }

        var contradictions = await store.ContradictionsAsync(reading.Facts, cancellation);
        if (!contradictions.IsEmpty)
        {
            return Problem(StatusCodes.Status409Conflict, "The file contradicts what is recorded, so nothing of it is recorded.", contradictions);
        }

        return dryRun
            ? TypedResults.Ok(new MasterDataReceipt(true, reading.Facts.Length, 0, 0))
            : await RecordAsync(reading.Facts, Caller.Of(context).Name, ingest, cancellation);
    }

    private static async Task<Results<Ok<MasterDataReceipt>, ProblemHttpResult>> RecordAsync(
        ImmutableArray<MasterDataFact> facts, string sender, IIngest ingest, CancellationToken cancellation)
    {
        var (recorded, repeats) = (0, 0);
        var errors = ImmutableArray.CreateBuilder<MasterDataError>();
        foreach (var level in facts.GroupBy(f => Level(f.Fact.Fact)).OrderBy(g => g.Key))
        {
            // The times of a file are nobody's clock: they count as they are written.
            var pending = level.Select(f => (Placed: f, Answer: ingest.SubmitAsync(new(f.Fact.Id, f.Fact.ContentHash, f.Fact.Fact with { SentBy = sender }), cancellation))).ToArray();
            foreach (var (placed, answer) in pending)
            {
                switch (await answer)
                {
                    case IngestAnswer.Recorded { IsRepeat: true }:
                        repeats++;
                        break;
                    case IngestAnswer.Recorded:
                        recorded++;
                        break;
                    case IngestAnswer.Refused refused:
                        errors.Add(new(placed.Pointer, placed.Line, placed.Column, refused.Reason.Detail));
                        break;
                    case IngestAnswer.Unavailable later:
                        return Problems.Of(ProblemKind.StoreUnavailable, $"{later.Reason} Send the file again: what is recorded already stays as it is.");
                }
            }

            if (errors.Count > 0)
            {
                return Problem(
                    StatusCodes.Status409Conflict,
                    FormattableString.Invariant($"{recorded + repeats} of {facts.Length} definitions are recorded; these were refused, and what depends on them was not tried. Correct the file and send it again."),
                    errors.DrainToImmutable());
            }
        }

        return TypedResults.Ok(new MasterDataReceipt(false, facts.Length, recorded, repeats));
    }

    // What a definition names must be recorded before it.
    private static int Level(Fact fact) => fact switch
    {
        SiteDefined or ItemDefined or DefectCodeDefined or PersonDefined or ToolDefined => 0,
        StationDefined or LotReceived or QualificationGranted or ToolCalibrated or ToolSettingVerified => 1,
        RoutingReleased or ReplacementDeclared => 3,
        _ => 2,
    };

    private static ProblemHttpResult Problem(int status, string detail, ImmutableArray<MasterDataError> errors) => TypedResults.Problem(
        detail: detail,
        statusCode: status,
        title: "The master-data file can't be taken.",
        type: $"/problems/{Code}",
        extensions: new Dictionary<string, object?>(StringComparer.Ordinal)
        {
            ["code"] = Code,
            ["errors"] = errors.Select(e => new ProblemError { Pointer = e.Pointer, Detail = e.Detail, Line = e.Line, Column = e.Column }).ToArray(),
        });
}
