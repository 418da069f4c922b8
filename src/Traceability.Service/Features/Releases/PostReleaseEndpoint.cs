using System.Globalization;
using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Contracts.Units;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Security;

namespace Traceability.Service.Features.Releases;

/// <summary>POST /api/units/{item}/{serial}/release: a person releases a unit, with a signature.</summary>
internal static class PostReleaseEndpoint
{
    public static void Map(IEndpointRouteBuilder api) =>
        api.MapPost("/units/{item}/{serial}/release", HandleAsync)
            .RequireAuthorization(Policies.Decide)
            .WithName("releaseUnit")
            .WithTags("Releases")
            .WithSummary("Releases a unit under a person's signature")
            .WithDescription(
                "Judges the unit and every unit inside it at this moment, takes the signature (the person's code and secret), and records both in one unit-released fact. "
                + "Refused with release-blocked while something is lacking: the problem's member blockers lists everything, as the GET does. "
                + "Modelled on 21 CFR 11.50, 11.70 and 11.200. Says what was recorded against which rule, never that the unit is safe or fit for use.")
            .Accepts<ReleaseRequest>("application/json")
            .Produces<ReleaseReceipt>(StatusCodes.Status201Created)
            .Produces<ReleaseReceipt>()
            .ProducesProblem(StatusCodes.Status400BadRequest)
            .ProducesProblem(StatusCodes.Status403Forbidden)
            .ProducesProblem(StatusCodes.Status404NotFound)
            .ProducesProblem(StatusCodes.Status409Conflict)
            .ProducesProblem(StatusCodes.Status503ServiceUnavailable);

    private static async Task<Results<Created<ReleaseReceipt>, Ok<ReleaseReceipt>, ProblemHttpResult>> HandleAsync(
        HttpContext context, string item, string serial, ReleaseDesk desk, CancellationToken cancellation)
    {
        var path = new PathCodes();
        var unit = path.Unit(item, serial);
        if (path.Refusal is { } refusal)
        {
            return refusal.ToProblem();
        }

        var (asked, faults) = ReleaseReader.Read(await RequestBody.ReadAsync(context.Request, cancellation));
        if (asked is null)
        {
            return new Refusal("release-malformed", RefusalKind.Malformed, "The release can't be read. Every fault is listed with its place.", faults).ToProblem();
        }

        switch (await desk.ReleaseAsync(unit, asked, Caller.Of(context), cancellation))
        {
            case ReleaseAnswer.Released { Receipt.IsRepeat: true } repeat:
                return TypedResults.Ok(Of(unit, repeat));
            case ReleaseAnswer.Released released:
                return TypedResults.Created($"/api/facts/{asked.Id}", Of(unit, released));
            case ReleaseAnswer.Refused refused:
                return Problem(refused);
            case ReleaseAnswer.Unavailable { Later: var later }:
                context.Response.Headers.RetryAfter = ((int)later.RetryAfter.TotalSeconds).ToString(CultureInfo.InvariantCulture);
                return Problems.Of(ProblemKind.StoreUnavailable, later.Reason);
            default:
                throw new System.Diagnostics.UnreachableException();
        }
    }

    private static ReleaseReceipt Of(UnitKey unit, ReleaseAnswer.Released released) => new(
        ReleaseViews.Reference(unit),
        released.Receipt.Posted.Id,
        released.Receipt.Version,
        released.Receipt.RecordedAt,
        released.Receipt.IsRepeat,
        SignatureViews.Of(released.Receipt.Posted.Id, released.Fact.Signature!, isVoided: false, matches: null),
        [.. released.Receipt.Findings.Select(f => FindingViews.Of(f, unit))]);

    private static ProblemHttpResult Problem(ReleaseAnswer.Refused refused)
    {
        var problem = refused.Reason.ToProblem();
        if (refused.Reason.Kind == RefusalKind.Unauthorised)
        {
            // The key does allow it.
            problem.ProblemDetails.Title = "The signature is not accepted.";
        }

        if (!refused.Blockers.IsEmpty)
        {
            problem.ProblemDetails.Extensions["blockers"] = refused.Blockers.Select(ReleaseViews.Of).ToArray();
        }

        return problem;
    }
}
