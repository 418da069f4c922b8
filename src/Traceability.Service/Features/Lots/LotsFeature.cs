using Traceability.Contracts.Definitions;
using Traceability.Contracts.Lots;
using Traceability.Service.Security;

namespace Traceability.Service.Features.Lots;

/// <summary>Looks up lots: where each stands, what it was made of and what of it, what is unexplained of it.</summary>
internal static class LotsFeature
{
    /// <summary>Adds the feature's services.</summary>
    public static IServiceCollection AddLots(this IServiceCollection services) => services.AddSingleton<LotReader>();

    /// <summary>Maps the feature's endpoints.</summary>
    public static void MapLots(this IEndpointRouteBuilder api)
    {
        Describe(api.MapGet("/lots/{item}", GetLotsEndpoint.ListAsync), "listLots", "Lists the lots of an item").Produces<DefinitionPage<LotView>>();
        Describe(api.MapGet("/lots/{item}/{lot}", GetLotsEndpoint.OneAsync), "getLot", "Gives a lot with its state, containers, inspections, ends of shelf life and counts")
            .Produces<LotView>();
        Describe(api.MapGet("/lots/{item}/{lot}/lineage", GetLotsEndpoint.LineageAsync), "getLotLineage", "Which lots a lot was made of and which were made of it, at any depth")
            .Produces<LotLineageView>();
        Describe(api.MapGet("/lots/{item}/{lot}/balance", GetLotsEndpoint.BalanceAsync), "getLotBalance", "What of a lot is unexplained, and how many units that could be")
            .Produces<LotBalanceView>();
        Describe(api.MapGet("/supplier-lots", GetLotsEndpoint.OfSupplierLotAsync), "findSupplierLot", "Gives the lots that a supplier's lot came in as")
            .Produces<IReadOnlyList<LotView>>();
    }

    private static RouteHandlerBuilder Describe(RouteHandlerBuilder endpoint, string name, string summary) => endpoint
        .RequireAuthorization(Policies.Read)
        .WithName(name)
        .WithTags("Lots")
        .WithSummary(summary)
        .ProducesProblem(StatusCodes.Status400BadRequest)
        .ProducesProblem(StatusCodes.Status404NotFound);
}
