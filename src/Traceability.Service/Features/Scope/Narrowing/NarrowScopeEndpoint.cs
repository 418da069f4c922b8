using System.Text.Json;
using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Contracts.Narrowing;
using Traceability.Domain.Narrowing;
using Traceability.Service.Http;
using Traceability.Service.Http.Reading;
using Traceability.Service.Security;

namespace Traceability.Service.Features.Scope.Narrowing;

/// <summary>POST /api/scopes/narrowing.</summary>
internal static class NarrowScopeEndpoint
{
    private const int AlternativesMax = 20;
    private const int NameMax = 100;

    private static readonly Shape QuestionShape = new("suspect", "alternatives");
    private static readonly Shape AlternativeShape = new("name", "suspect");

    public static void Map(IEndpointRouteBuilder api) =>
        api.MapPost("/scopes/narrowing", HandleAsync)
            .RequireAuthorization(Policies.Read)
            .WithTags("Scope")
            .WithName("narrowScope")
            .WithSummary("How a scope would shrink if less were suspected, and which missing facts would clear the most units")
            .WithDescription(
                "Records nothing and clears nothing: it says what if. Narrower questions are proposed by container, time, station and step; the asker may "
                + "give more. A missing fact is said to clear a unit if the unit would be no member, had that fact been recorded and named something that isn't suspected.")
            .Accepts<NarrowingQuestion>("application/json")
            .Produces<NarrowingAnswer>()
            .ProducesProblem(StatusCodes.Status400BadRequest)
            .ProducesProblem(StatusCodes.Status404NotFound)
            .ProducesProblem(StatusCodes.Status413PayloadTooLarge)
            .ProducesProblem(StatusCodes.Status415UnsupportedMediaType);

    private static async Task<Results<Ok<NarrowingAnswer>, ProblemHttpResult>> HandleAsync(
        HttpContext context, ScopeNarrower narrower, CancellationToken cancellation)
    {
        var (question, refusal) = QuestionReading.Read(await RequestBody.ReadAsync(context.Request, cancellation), Read);
        if (question is null)
        {
            return refusal!.ToProblem();
        }

        var (answer, unknown) = await narrower.AnswerAsync(question, cancellation);
        return answer is not null ? TypedResults.Ok(answer) : unknown!.ToProblem();
    }

    private static Narrowed Read(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, QuestionShape);
        var suspect = o.Object<Domain.Scope.Suspect>("suspect", SuspectJson.Read);
        var alternatives = o.Has("alternatives") ? o.List("alternatives", ReadAlternative) : [];
        if (alternatives.Length > AlternativesMax)
        {
            o.Fail("alternatives", $"At most {AlternativesMax} alternatives are expected, not {alternatives.Length}. Ask in parts.");
        }

        return new(suspect!, alternatives);
    }

    private static Alternative ReadAlternative(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, AlternativeShape);
        var name = o.TextOrNull("name");
        if (name is not null && (string.IsNullOrWhiteSpace(name) || name.Length > NameMax))
        {
            o.Fail("name", $"A name of 1 to {NameMax} characters is expected; or leave it out.");
        }

        var suspect = o.Object<Domain.Scope.Suspect>("suspect", SuspectJson.Read);
        return new(NarrowedBy.Asker, name ?? suspect?.ToString() ?? string.Empty, suspect!);
    }
}

/// <summary>A question for how a scope would shrink.</summary>
/// <param name="Suspect">What is suspected.</param>
/// <param name="Alternatives">What the asker compares with.</param>
internal sealed record Narrowed(Domain.Scope.Suspect Suspect, ImmutableArray<Alternative> Alternatives);
