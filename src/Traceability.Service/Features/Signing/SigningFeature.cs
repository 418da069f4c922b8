using Traceability.Service.Security;

namespace Traceability.Service.Features.Signing;

/// <summary>The secrets with which people sign.</summary>
internal static class SigningFeature
{
    /// <summary>Maps the feature's endpoints.</summary>
    public static void MapSigning(this IEndpointRouteBuilder api)
    {
        var secrets = api.MapGroup("/people/{person}/signing-secret").WithTags("Signing").RequireAuthorization(Policies.Decide);
        secrets.MapPut(string.Empty, SetSecretEndpoint.HandleAsync)
            .WithName("setSigningSecret")
            .WithSummary("Set the secret with which a person signs")
            .WithDescription("In place of an earlier one, which no longer works; it also unlocks a signature that wrong secrets have locked. The secret has 8 to 128 characters. Only a salted hash is stored, and nothing gives it back.")
            .Accepts<SigningSecretRequest>("application/json")
            .Produces(StatusCodes.Status204NoContent)
            .ProducesProblem(StatusCodes.Status400BadRequest)
            .ProducesProblem(StatusCodes.Status404NotFound);
        secrets.MapDelete(string.Empty, RemoveSecretEndpoint.HandleAsync)
            .WithName("removeSigningSecret")
            .WithSummary("Take a person's signing secret away")
            .WithDescription("The person can't sign until another one is set. A repeat changes nothing. What was signed stays signed.")
            .Produces(StatusCodes.Status204NoContent)
            .ProducesProblem(StatusCodes.Status400BadRequest)
            .ProducesProblem(StatusCodes.Status404NotFound);
    }
}
