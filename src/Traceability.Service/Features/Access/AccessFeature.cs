using Traceability.Service.Security;

namespace Traceability.Service.Features.Access;

/// <summary>Giving, listing and revoking keys.</summary>
internal static class AccessFeature
{
    /// <summary>Adds what the feature needs beyond <see cref="AccessControl"/>.</summary>
    public static IServiceCollection AddAccess(this IServiceCollection services) => services.AddSingleton<CreateKeyValidator>();

    /// <summary>Maps /keys under the API's root.</summary>
    public static void MapAccess(this IEndpointRouteBuilder api)
    {
        var keys = api.MapGroup("/keys").WithTags("Access").RequireAuthorization(Policies.Administer);
        keys.MapPost(string.Empty, CreateKeyEndpoint.HandleAsync)
            .WithName("createKey")
            .WithSummary("Give a key")
            .Accepts<CreateKeyRequest>("application/json")
            .WithDescription("The answer is the only one that holds the key itself; only a hash of it is stored. A station's key is bound to its station: what it sends names that station.")
            .ProducesProblem(StatusCodes.Status400BadRequest)
            .ProducesProblem(StatusCodes.Status409Conflict);
        keys.MapGet(string.Empty, ListKeysEndpoint.HandleAsync)
            .WithName("listKeys")
            .WithSummary("List the keys")
            .WithDescription("Every key that was ever given, revoked ones too, by name; without the keys themselves.");
        keys.MapDelete("/{id}", RevokeKeyEndpoint.HandleAsync)
            .WithName("revokeKey")
            .WithSummary("Revoke a key")
            .WithDescription("It ends at once in the instance that answers, and within Access:KeyCacheDuration (5 s) in others. A repeat changes nothing. The last administrator key can't be revoked.")
            .ProducesProblem(StatusCodes.Status404NotFound)
            .ProducesProblem(StatusCodes.Status409Conflict);
    }
}
