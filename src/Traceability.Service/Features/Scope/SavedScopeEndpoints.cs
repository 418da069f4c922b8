using System.Globalization;
using System.Text.Json;
using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Contracts.Scope;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;
using Traceability.Service.Http;
using Traceability.Service.Http.Querying;
using Traceability.Service.Http.Reading;
using Traceability.Service.Security;

namespace Traceability.Service.Features.Scope;

/// <summary>/api/scopes/{name}: questions that are saved under a name, to be asked again and to be shared as a link.</summary>
internal static class SavedScopeEndpoints
{
    private const int TitleLengthMax = 200;

    private static readonly Shape SaveShape = new("title", "suspect");

    /// <summary>The parameters of the list, for the contract; <see cref="QueryReader"/> reads them.</summary>
    /// <param name="Limit">The most questions of the page, 1 to 1000. Default: 100.</param>
    /// <param name="After">What the page before said as "after": a name.</param>
    internal sealed record ListQuery(string? Limit, string? After);

    public static void Map(IEndpointRouteBuilder api)
    {
        var group = api.MapGroup("/scopes").WithTags("Scope");
        group.MapGet(string.Empty, ListAsync)
            .RequireAuthorization(Policies.Read)
            .WithName("listScopes")
            .WithSummary("The saved questions, by name")
            .ProducesProblem(StatusCodes.Status400BadRequest);
        group.MapGet("/{name}", GetAsync)
            .RequireAuthorization(Policies.Read)
            .WithName("getScope")
            .WithSummary("A saved question")
            .WithDescription("The header ETag holds its version: send it as If-Match to replace the question.")
            .ProducesProblem(StatusCodes.Status400BadRequest)
            .ProducesProblem(StatusCodes.Status404NotFound);
        group.MapGet("/{name}/members", MembersAsync)
            .RequireAuthorization(Policies.Read)
            .WithName("getScopeMembers")
            .WithSummary("The answer to a saved question, as of now: a link to share")
            .ProducesProblem(StatusCodes.Status400BadRequest)
            .ProducesProblem(StatusCodes.Status404NotFound);
        group.MapPut("/{name}", SaveAsync)
            .RequireAuthorization(Policies.Decide)
            .WithName("saveScope")
            .WithSummary("Save a question under a name")
            .WithDescription(
                "Without If-Match the name must be free. With If-Match and the version that was read, the question takes the place of that version; "
                + "if somebody replaced it meanwhile, nothing is changed. A repeat changes nothing.")
            .Accepts<SaveScope>("application/json")
            .ProducesProblem(StatusCodes.Status400BadRequest)
            .ProducesProblem(StatusCodes.Status404NotFound)
            .ProducesProblem(StatusCodes.Status409Conflict)
            .ProducesProblem(StatusCodes.Status413PayloadTooLarge)
            .ProducesProblem(StatusCodes.Status415UnsupportedMediaType);
        group.MapDelete("/{name}", RemoveAsync)
            .RequireAuthorization(Policies.Decide)
            .WithName("removeScope")
            .WithSummary("Remove a saved question")
            .WithDescription("Nothing that was recorded is touched.")
            .Produces(StatusCodes.Status204NoContent)
            .ProducesProblem(StatusCodes.Status400BadRequest)
            .ProducesProblem(StatusCodes.Status404NotFound);
    }

    private static async Task<Results<Ok<SavedScopePage>, ProblemHttpResult>> ListAsync(
        [AsParameters] ListQuery query, HttpRequest request, SavedScopes saved, CancellationToken cancellation)
    {
        _ = query;
        var reader = new QueryReader(request.Query);
        var limit = reader.Integer("limit", 1, ScopeRequest.LimitMax, ScopeRequest.LimitDefault);
        var after = reader.Code<Code>("after");
        if (reader.Finish() is { } wrong)
        {
            return wrong.ToProblem();
        }

        // One more than asked for tells that there is a next page.
        var found = await saved.ListAsync(after?.Value, limit + 1, cancellation);
        return TypedResults.Ok(new SavedScopePage([.. found.Take(limit)], found.Count > limit ? found[limit - 1].Name : null));
    }

    private static async Task<Results<Ok<SavedScope>, ProblemHttpResult>> GetAsync(
        string name, HttpContext context, SavedScopes saved, CancellationToken cancellation)
    {
        var (code, refusal) = Read(name, context.Request);
        if (refusal is not null)
        {
            return refusal.ToProblem();
        }

        if (await saved.FindAsync(code, cancellation) is not { } found)
        {
            return Unknown(code).ToProblem();
        }

        Tag(context, found);
        return TypedResults.Ok(found);
    }

    private static async Task<Results<Ok<ScopeQuestionAnswer>, ProblemHttpResult>> MembersAsync(
        string name, [AsParameters] AskScopeEndpoint.Query query, HttpRequest request, SavedScopes saved, ScopeAnswerer answerer, CancellationToken cancellation)
    {
        _ = query;
        var path = new PathCodes();
        var code = path.Read<Code>("name", name);
        var reader = new QueryReader(request.Query);
        var page = ScopePageRequest.Read(reader);
        if ((path.Refusal ?? reader.Finish()) is { } wrong)
        {
            return wrong.ToProblem();
        }

        if (await saved.FindAsync(code, cancellation) is not { } found)
        {
            return Unknown(code).ToProblem();
        }

        var (answer, unknown) = await answerer.AnswerAsync(
            SuspectJson.Parse(JsonSerializer.Serialize(found.Suspect, Contracts.WireJson.Options)), "/suspect", page, cancellation);
        return answer is not null ? TypedResults.Ok(answer) : unknown!.ToProblem();
    }

    private static async Task<Results<Ok<SavedScope>, Created<SavedScope>, ProblemHttpResult>> SaveAsync(
        string name, HttpContext context, SavedScopes saved, CancellationToken cancellation)
    {
        var (code, refusal) = Read(name, context.Request);
        if (refusal is not null)
        {
            return refusal.ToProblem();
        }

        var (asked, malformed) = QuestionReading.Read(await RequestBody.ReadAsync(context.Request, cancellation), ReadSave);
        if (asked is null)
        {
            return malformed!.ToProblem();
        }

        if (!TryVersion(context.Request, out var replaces))
        {
            return Refusal.At("question-malformed", RefusalKind.Malformed, "If-Match", "If-Match is the version that was read, such as \"3\"; leave it out to save a new question.").ToProblem();
        }

        var (outcome, there) = await saved.SaveAsync(code, asked.Title, asked.Suspect, replaces, Caller.Of(context).Name, cancellation);
        if (outcome == SavedScopes.Outcome.Refused)
        {
            return there is null ? Unknown(code).ToProblem() : Refusal.At(
                "scope-question-exists",
                RefusalKind.Contradiction,
                replaces is null ? "name" : "If-Match",
                string.Create(CultureInfo.InvariantCulture, $"Version {there.Version} is saved as {code}, by {there.Author}. Read it, and send its version as If-Match to replace it; or take another name.")).ToProblem();
        }

        Tag(context, there!);
        return outcome == SavedScopes.Outcome.Created ? TypedResults.Created($"/api/scopes/{code}", there) : TypedResults.Ok(there);
    }

    private static async Task<Results<NoContent, ProblemHttpResult>> RemoveAsync(
        string name, HttpRequest request, SavedScopes saved, CancellationToken cancellation)
    {
        var (code, refusal) = Read(name, request);
        return refusal is not null ? refusal.ToProblem()
            : await saved.RemoveAsync(code, cancellation) ? TypedResults.NoContent()
            : Unknown(code).ToProblem();
    }

    private static (Code Name, Refusal? Refusal) Read(string name, HttpRequest request)
    {
        var path = new PathCodes();
        var code = path.Read<Code>("name", name);
        return (code, path.Refusal ?? new QueryReader(request.Query).Finish());
    }

    private static Asked ReadSave(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, SaveShape);
        var title = o.Text("title");
        if (title.Length > TitleLengthMax)
        {
            o.Fail("title", string.Create(CultureInfo.InvariantCulture, $"The title has {title.Length} characters; at most {TitleLengthMax} are allowed."));
        }

        return new(title, o.Object<Suspect>("suspect", SuspectJson.Read)!);
    }

    private static bool TryVersion(HttpRequest request, out int? version)
    {
        version = null;
        var header = request.Headers.IfMatch;
        if (header.Count == 0)
        {
            return true;
        }

        var text = header.Count == 1 ? header[0]! : string.Empty;
        if (text is ['"', .., '"'] && int.TryParse(text.AsSpan(1, text.Length - 2), NumberStyles.None, CultureInfo.InvariantCulture, out var number))
        {
            version = number;
        }

        return version is not null;
    }

    private static void Tag(HttpContext context, SavedScope saved) =>
        context.Response.Headers.ETag = string.Create(CultureInfo.InvariantCulture, $"\"{saved.Version}\"");

    private static Refusal Unknown(Code name) =>
        Refusal.At("scope-question-unknown", RefusalKind.Unknown, "name", $"No question is saved as {name}. GET /api/scopes lists them.");

    private sealed record Asked(string Title, Suspect Suspect);
}
