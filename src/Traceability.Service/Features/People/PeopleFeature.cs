using Traceability.Contracts.People;
using Traceability.Service.Security;

namespace Traceability.Service.Features.People;

/// <summary>Who is qualified for what, and for how long. (One person with all grants and trainings: the definitions.)</summary>
internal static class PeopleFeature
{
    /// <summary>Adds the feature's services.</summary>
    public static IServiceCollection AddPeople(this IServiceCollection services) => services.AddSingleton<QualificationReader>();

    /// <summary>Maps the feature's endpoints.</summary>
    public static void MapPeople(this IEndpointRouteBuilder api) =>
        api.MapGet("/people/qualifications", ListQualificationsEndpoint.HandleAsync)
            .RequireAuthorization(Policies.Read)
            .WithName("listQualifications")
            .WithTags("People")
            .WithSummary("Lists the qualifications that stand now, all or those that end soon")
            .Produces<QualificationPage>()
            .ProducesProblem(StatusCodes.Status400BadRequest);
}
