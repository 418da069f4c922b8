using System.Reflection;
using System.Text.Json;

namespace Traceability.Service.Http;

/// <summary>contracts/problems.json, which is built in: the type of a problem leads to its meaning.</summary>
internal static class ProblemCatalogue
{
    private static readonly ImmutableDictionary<string, ProblemMeaning> Known = Read();

    /// <summary>Every code.</summary>
    public static IEnumerable<string> Codes => Known.Keys;

    /// <summary>Maps /problems/{code}; open, since the problem of a missing key leads there too.</summary>
    public static void MapProblems(this IEndpointRouteBuilder root) =>
        root.MapGet("/problems/{code}", (string code) => Known.TryGetValue(code, out var meaning)
                ? (IResult)TypedResults.Ok(meaning)
                : Problems.Of(ProblemKind.NotKnown, $"There is no problem with the code '{code}'.", new ProblemPlace("code", "No problem has this code; contracts/problems.json lists them.")))
            .AllowAnonymous()
            .WithTags("Problems")
            .WithName("getProblem")
            .WithSummary("What a problem means")
            .WithDescription("The address that a problem document's type names.")
            .Produces<ProblemMeaning>()
            .ProducesProblem(StatusCodes.Status404NotFound);

    private static ImmutableDictionary<string, ProblemMeaning> Read()
    {
        using var stream = Assembly.GetExecutingAssembly().GetManifestResourceStream("problems.json")
            ?? throw new InvalidOperationException("problems.json is not built into the service.");
        return JsonSerializer.Deserialize<ProblemMeaning[]>(stream, JsonSerializerOptions.Web)!.ToImmutableDictionary(p => p.Code, StringComparer.Ordinal);
    }
}

/// <summary>What a kind of problem means.</summary>
/// <param name="Code">Stable code to branch on.</param>
/// <param name="Meaning">What is wrong.</param>
/// <param name="WhatToDo">What to do.</param>
internal sealed record ProblemMeaning(string Code, string Meaning, string WhatToDo);
