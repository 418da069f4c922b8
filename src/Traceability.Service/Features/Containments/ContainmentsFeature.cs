using Traceability.Contracts;
using Traceability.Contracts.Containments;
using Traceability.Service.Features.Containments.Report;
using Traceability.Service.Security;
using Traceability.Service.Telemetry.Alarms;

namespace Traceability.Service.Features.Containments;

/// <summary>Containments: a scope put under a case, its members held, followed up, closed.</summary>
internal static class ContainmentsFeature
{
    private const string Tag = "Containments";

    /// <summary>Adds the services.</summary>
    public static IServiceCollection AddContainments(this IServiceCollection services)
    {
        services.AddOptions<ContainmentOptions>().BindConfiguration(ContainmentOptions.SectionName).ValidateDataAnnotations().ValidateOnStart();
        services.AddSingleton<CaseFacts>().AddSingleton<CaseDesk>().AddSingleton<HoldDesk>().AddSingleton<CaseReader>();
        services.AddSingleton<IAlarmSource>(new SqlAlarm(
            "containment-members-late",
            "select min(late_since), coalesce(sum(late_open), 0)::bigint, string_agg(id, ', ' order by id) from traceability.containment where late_open > 0",
            (count, cases) => FormattableString.Invariant($"{count} members of containments came late, and nobody has taken note of them: {cases}."),
            "Look at the members that came late, hold and follow them up, and record a late-members-acknowledged."));
        services.AddHostedService<ContainmentWatch>();
        return services;
    }

    /// <summary>Maps the endpoints.</summary>
    public static void MapContainments(this IEndpointRouteBuilder api)
    {
        Decide<ContainmentView>(api.MapPost("/containments", ContainmentEndpoints.OpenAsync), "openContainment", "Opens a containment: freezes the scope of a suspect under a case")
            .WithDescription("Runs the question, and records the members as found, with verdict, reason and place. Posting it again with the same id changes nothing.")
            .Accepts<ContainmentRequest>("application/json")
            .Produces<ContainmentView>(StatusCodes.Status201Created);
        Decide<ContainmentRefreshed>(api.MapPost("/containments/{id}/refresh", ContainmentEndpoints.RefreshAsync), "refreshContainment", "Runs the question of a containment again now, and records the difference")
            .WithDescription("The service does so by itself when facts have been recorded. A member that is no longer reached stays a member.");
        Decide<HoldsSet>(api.MapPost("/containments/{id}/holds", ContainmentEndpoints.HoldAsync), "setContainmentHolds", "Holds every member that has not left, and lifts the holds of those whose outcome asks for none")
            .WithDescription("A member inside another unit is stopped by a hold on the outermost one. Holds of other causes are not touched. Asking again does nothing twice.")
            .Accepts<ContainmentHoldsRequest>("application/json");
        Ask<ContainmentPage>(api.MapGet("/containments", ContainmentLists.CasesAsync), "listContainments", "Containments, newest first");
        Ask<ContainmentView>(api.MapGet("/containments/{id}", ContainmentEndpoints.GetAsync), "getContainment", "One containment with its figures");
        Ask<ContainmentMemberPage>(api.MapGet("/containments/{id}/members", ContainmentLists.MembersAsync), "listContainmentMembers", "The members of a containment, with where they are now and their outcomes");
        Ask<ConsigneePage>(api.MapGet("/containments/{id}/consignees", ContainmentLists.ConsigneesAsync), "listContainmentConsignees", "Who has members of a containment, since when, by which order");
        Ask(api.MapGet("/containments/{id}/report", GetReportEndpoint.HandleAsync), "getContainmentReport", "The whole case as a report: HTML, PDF, or its members as CSV")
            .Produces(StatusCodes.Status200OK, contentType: "text/html", additionalContentTypes: ["application/pdf", "text/csv"]);
    }

    private static RouteHandlerBuilder Decide<T>(RouteHandlerBuilder endpoint, string name, string summary) => Describe(endpoint, Policies.Decide, name, summary)
        .Produces<T>()
        .Produces<Problem>(StatusCodes.Status409Conflict, "application/problem+json")
        .Produces<Problem>(StatusCodes.Status503ServiceUnavailable, "application/problem+json");

    private static void Ask<T>(RouteHandlerBuilder endpoint, string name, string summary) => Ask(endpoint, name, summary).Produces<T>();

    private static RouteHandlerBuilder Ask(RouteHandlerBuilder endpoint, string name, string summary) => Describe(endpoint, Policies.Read, name, summary);

    private static RouteHandlerBuilder Describe(RouteHandlerBuilder endpoint, string policy, string name, string summary) => endpoint
        .RequireAuthorization(policy)
        .WithTags(Tag)
        .WithName(name)
        .WithSummary(summary)
        .Produces<Problem>(StatusCodes.Status400BadRequest, "application/problem+json")
        .Produces<Problem>(StatusCodes.Status401Unauthorized, "application/problem+json")
        .Produces<Problem>(StatusCodes.Status403Forbidden, "application/problem+json")
        .Produces<Problem>(StatusCodes.Status404NotFound, "application/problem+json");
}
