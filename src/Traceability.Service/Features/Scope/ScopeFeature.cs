using Microsoft.AspNetCore.Http.HttpResults;
using Microsoft.AspNetCore.Mvc;
using Traceability.Contracts.Scope;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Security;

namespace Traceability.Service.Features.Scope;

/// <summary>Recall scope: which units a suspect reaches.</summary>
internal static class ScopeFeature
{
    /// <summary>Adds what the endpoints need.</summary>
    public static IServiceCollection AddScope(this IServiceCollection services) => services
        .AddSingleton<ScopeRunner>().AddSingleton<Storage.Scopes.IScopeQuestions, ScopeQuestions>()
        .AddSingleton<ScopeReader>().AddSingleton<ScopeAnswerer>().AddSingleton<SavedScopes>().AddSingleton<SupplierScopeReader>();

    /// <summary>Maps the endpoints.</summary>
    public static void MapScope(this IEndpointRouteBuilder api)
    {
        var group = api.MapGroup("/lots/{item}/{lot}").RequireAuthorization(Policies.Read).WithTags("Scope");
        group.MapGet("/scope", OfLotAsync)
            .WithName("GetLotScope")
            .WithSummary("Which units a suspect lot reaches or may have reached, with evidence and present place.")
            .ProducesProblem(StatusCodes.Status400BadRequest)
            .ProducesProblem(StatusCodes.Status404NotFound);
        group.MapGet("/containers/{container}/scope", OfContainerAsync)
            .WithName("GetContainerScope")
            .WithSummary("Which units a suspect container reaches or may have reached, with evidence and present place.")
            .ProducesProblem(StatusCodes.Status400BadRequest)
            .ProducesProblem(StatusCodes.Status404NotFound);
        api.MapGet("/supplier-lots/scope", OfSupplierLotAsync)
            .RequireAuthorization(Policies.Read)
            .WithTags("Scope")
            .WithName("GetSupplierLotScope")
            .WithSummary("Which units a supplier's lot reaches or may have reached: the union over the lots that it came in as.")
            .ProducesProblem(StatusCodes.Status400BadRequest)
            .ProducesProblem(StatusCodes.Status404NotFound);
        AskScopeEndpoint.Map(api);
        SavedScopeEndpoints.Map(api);
    }

    private static async Task<Results<Ok<SupplierLotScope>, ProblemHttpResult>> OfSupplierLotAsync(
        [FromQuery] string? supplierLot,
        [FromQuery] string? supplier,
        [FromQuery] string? limit,
        [FromQuery] string? after,
        SupplierScopeReader scopes,
        CancellationToken cancellation)
    {
        var (request, refusal) = ScopeRequest.ReadSupplier(supplierLot, supplier, limit, after);
        return request is null ? refusal!.ToProblem()
            : await scopes.FindAsync(request, cancellation) is { } answer ? TypedResults.Ok(answer)
            : Refusal.At("lot-unknown", RefusalKind.Unknown, "supplierLot", $"No lot was received as supplier's lot {supplierLot}. Check its number, and the supplier.").ToProblem();
    }

    private static Task<Results<Ok<ScopeAnswer>, ProblemHttpResult>> OfLotAsync(
        string item,
        string lot,
        [FromQuery] string? limit,
        [FromQuery] string? after,
        [FromQuery] string? include,
        [FromQuery] string? clearedAfter,
        ScopeReader scopes,
        CancellationToken cancellation) =>
        AnswerAsync(ScopeRequest.Read(item, lot, null, limit, after, include, clearedAfter), scopes, cancellation);

    private static Task<Results<Ok<ScopeAnswer>, ProblemHttpResult>> OfContainerAsync(
        string item,
        string lot,
        string container,
        [FromQuery] string? limit,
        [FromQuery] string? after,
        [FromQuery] string? include,
        [FromQuery] string? clearedAfter,
        ScopeReader scopes,
        CancellationToken cancellation) =>
        AnswerAsync(ScopeRequest.Read(item, lot, container, limit, after, include, clearedAfter), scopes, cancellation);

    private static async Task<Results<Ok<ScopeAnswer>, ProblemHttpResult>> AnswerAsync(
        (ScopeRequest? Request, Refusal? Refusal) question, ScopeReader scopes, CancellationToken cancellation)
    {
        if (question.Request is not { } request)
        {
            return question.Refusal!.ToProblem();
        }

        return await scopes.FindAsync(request, cancellation) is { } answer
            ? TypedResults.Ok(answer)
            : Refusal.At(
                "lot-unknown",
                RefusalKind.Unknown,
                "lot",
                $"Lot {request.Factor.Lot} was never received and no record names it. Check item and lot number.").ToProblem();
    }
}
