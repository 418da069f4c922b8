using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Contracts.Definitions;
using Traceability.Contracts.Facts;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Security;

namespace Traceability.Service.Features.Definitions;

/// <summary>Looks up what was defined: items, routings, tools, people, stations, sites, defect codes. (Defining is recording facts.)</summary>
internal static class DefinitionsFeature
{
    /// <summary>Adds the feature's services.</summary>
    public static IServiceCollection AddDefinitions(this IServiceCollection services) => services.AddSingleton<DefinitionReader>();

    /// <summary>Maps the feature's endpoints.</summary>
    public static void MapDefinitions(this IEndpointRouteBuilder api)
    {
        List<Domain.Items.ItemDefined, ItemView>(api, "items", "listItems", "Lists the items", "item/", DefinitionViews.Of);
        List<Domain.Sites.SiteDefined, SiteView>(api, "sites", "listSites", "Lists the sites", "site/", DefinitionViews.Of);
        List<Domain.Sites.StationDefined, StationView>(api, "stations", "listStations", "Lists the stations", "station/", DefinitionViews.Of);
        List<Domain.Items.DefectCodeDefined, DefectView>(api, "defects", "listDefects", "Lists the defect codes", "defect/", DefinitionViews.Of);
        List<Domain.Tools.Tool, ToolView>(api, "tools", "listTools", "Lists the tools", "tool/", DefinitionViews.Of);
        List<Domain.People.Person, PersonView>(api, "people", "listPeople", "Lists the people", "person/", DefinitionViews.Of);
        One<ItemNumber, Domain.Items.ItemDefined, ItemView>(api, "items/{code}", "getItem", "Gives an item", StreamNames.OfItem, DefinitionViews.Of);
        One<ToolNumber, Domain.Tools.Tool, ToolView>(api, "tools/{code}", "getTool", "Gives a tool with its calibrations", StreamNames.Of, DefinitionViews.Of);
        One<PersonCode, Domain.People.Person, PersonView>(api, "people/{code}", "getPerson", "Gives a person with the qualifications", StreamNames.Of, DefinitionViews.Of);
        One<StationCode, Domain.Sites.StationDefined, StationView>(api, "stations/{code}", "getStation", "Gives a station", StreamNames.Of, DefinitionViews.Of);
        One<ItemNumber, Domain.Routings.Routing, RoutingView>(api, "routings/{code}", "getRouting", "Gives the routing of an item, with all revisions", StreamNames.OfRouting, DefinitionViews.Of);
        Describe(api.MapGet("/routings/{item}/{revision}", RevisionAsync), "getRevision", "Gives one revision of a routing").Produces<RoutingRevision>();
    }

    private static void List<TState, TView>(
        IEndpointRouteBuilder api, string route, string name, string summary, string prefix, Func<TState, TView> view)
        where TState : class =>
        Describe(
            api.MapGet($"/{route}", async Task<Results<Ok<DefinitionPage<TView>>, ProblemHttpResult>> (
                string? limit, string? after, DefinitionReader reader, CancellationToken cancellation) =>
            {
                if (!DefinitionQuery.TryRead(limit, after, out var count, out var refusal))
                {
                    return refusal!.ToProblem();
                }

                var (found, next) = await reader.ListAsync<TState>(prefix, after ?? string.Empty, count, cancellation);
                return TypedResults.Ok(new DefinitionPage<TView>([.. found.Select(view)], next));
            }),
            name,
            summary).Produces<DefinitionPage<TView>>();

    private static void One<TCode, TState, TView>(
        IEndpointRouteBuilder api, string route, string name, string summary, Func<TCode, string> stream, Func<TState, TView> view)
        where TCode : struct, ICode<TCode>
        where TState : class =>
        Describe(
            api.MapGet($"/{route}", async Task<Results<Ok<TView>, ProblemHttpResult>> (string code, DefinitionReader reader, CancellationToken cancellation) =>
            {
                var path = new PathCodes();
                var key = path.Read<TCode>("code", code);
                return path.Refusal is { } refusal ? refusal.ToProblem()
                    : await reader.FindAsync<TState>(stream(key), cancellation) is { } found ? TypedResults.Ok(view(found))
                    : Unknown("definition-unknown", "code", $"{TCode.Name} {code}");
            }),
            name,
            summary).Produces<TView>();

    private static async Task<Results<Ok<RoutingRevision>, ProblemHttpResult>> RevisionAsync(
        string item, string revision, DefinitionReader reader, CancellationToken cancellation)
    {
        var path = new PathCodes();
        var number = path.Read<ItemNumber>("item", item);
        var code = path.Read<RevisionCode>("revision", revision);
        if (path.Refusal is { } refusal)
        {
            return refusal.ToProblem();
        }

        var routing = await reader.FindAsync<Domain.Routings.Routing>(StreamNames.OfRouting(number), cancellation);
        var found = routing is null ? null : DefinitionViews.Of(routing);
        return found?.Released.Concat(found.Drafts).FirstOrDefault(r => r.Revision == code.Value) is { } view
            ? TypedResults.Ok(view)
            : Unknown("revision-unknown", "revision", $"Revision {revision} of {item}");
    }

    private static ProblemHttpResult Unknown(string code, string pointer, string what) =>
        Refusal.At(code, RefusalKind.Unknown, pointer, $"{what} is not known. Define it first, or correct the address.").ToProblem();

    private static RouteHandlerBuilder Describe(RouteHandlerBuilder endpoint, string name, string summary) => endpoint
        .RequireAuthorization(Policies.Read)
        .WithName(name)
        .WithTags("Definitions")
        .WithSummary(summary)
        .ProducesProblem(StatusCodes.Status400BadRequest)
        .ProducesProblem(StatusCodes.Status404NotFound);
}
