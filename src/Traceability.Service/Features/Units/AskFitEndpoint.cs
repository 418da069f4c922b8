using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Contracts.Facts;
using Traceability.Contracts.Units;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Http.Reading;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Units;

/// <summary>POST /api/units/{item}/{serial}/steps/{step}/fits: which size or unit fits what was measured on this one?</summary>
internal static class AskFitEndpoint
{
    public static void Map(IEndpointRouteBuilder api) =>
        api.MapPost("/units/{item}/{serial}/steps/{step}/fits", HandleAsync)
            .RequireAuthorization(Security.Policies.Read)
            .WithName("askFit")
            .WithTags("Units")
            .WithSummary("Proposes which of the sizes and measured units fit, by the limits derived from what was measured on this unit")
            .WithDescription("Records nothing. The limits are those that will judge the step; margins carry the propagated standard uncertainty (JCGM 100, 5.1.2). A person decides.")
            .Accepts<FitQuestion>("application/json")
            .Produces<FitProposal>()
            .ProducesProblem(StatusCodes.Status400BadRequest)
            .ProducesProblem(StatusCodes.Status404NotFound)
            .ProducesProblem(StatusCodes.Status413PayloadTooLarge)
            .ProducesProblem(StatusCodes.Status415UnsupportedMediaType);

    private static async Task<Results<Ok<FitProposal>, ProblemHttpResult>> HandleAsync(
        HttpContext context, string item, string serial, string step, UnitReader units, MateReader mates, TimeProvider clock, CancellationToken cancellation)
    {
        var path = new PathCodes();
        var unit = path.Unit(item, serial);
        var code = path.Read<StepCode>("step", step);
        if (path.Refusal is { } refusal)
        {
            return refusal.ToProblem();
        }

        var (asked, malformed) = QuestionReading.Read(await RequestBody.ReadAsync(context.Request, cancellation), FitReader.Read);
        if (asked is null)
        {
            return malformed!.ToProblem();
        }

        var now = clock.GetUtcNow();
        if (await units.FindAsync(unit, [], cancellation) is not { Judgement.Status.OpenedAt: not null } judged)
        {
            return UnitProblems.Unknown(unit);
        }

        if (Fitting.Window(judged.Unit, judged.References, new(code, null, null, [], [], [], now), asked.Characteristic) is not { } window)
        {
            return Refusal.At(
                "definition-unknown",
                RefusalKind.Unknown,
                "/characteristic",
                $"Step {code} of the revision that applies to {unit} does not measure {asked.Characteristic}. Correct the step or the characteristic.").ToProblem();
        }

        var found = asked.Mates is { } mate ? await mates.FindAsync(mate, now, cancellation) : [];
        return TypedResults.Ok(Proposal(judged, window, Fitting.Rank(window, [.. asked.Sizes, .. found.Where(f => f.Unit != unit)]), now));
    }

    private static FitProposal Proposal(JudgedUnit judged, FitWindow window, ImmutableArray<RankedCandidate> ranked, DateTimeOffset now) => new(
        Reference(judged.Unit.Key),
        window.Step.Value,
        window.Characteristic.Value,
        window.Name,
        window.Unit,
        now,
        window.IsKnown,
        LimitViews.Of(window.Lower),
        LimitViews.Of(window.Upper),
        window.Middle,
        window.GuardBand,
        [.. ranked.Select(Candidate)],
        CompletenessReader.Of(judged));

    private static FitCandidateView Candidate(RankedCandidate ranked) => new(
        ranked.Candidate.Name,
        ranked.Candidate.Unit is { } unit ? Reference(unit) : null,
        ranked.Candidate.Record,
        new() { Value = ranked.Candidate.Value.Value, Unit = ranked.Candidate.Value.Unit },
        ranked.Value,
        ranked.Fits,
        ranked.Margin,
        ranked.StandardUncertainty,
        ranked.IsUncertaintyComplete);

    private static UnitRef Reference(UnitKey key) => new() { Item = key.Item.Value, Serial = key.Serial.Value };
}
