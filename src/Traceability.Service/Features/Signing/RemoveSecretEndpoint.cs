using Microsoft.AspNetCore.Http.HttpResults;
using Npgsql;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Security;

namespace Traceability.Service.Features.Signing;

/// <summary>DELETE /api/people/{person}/signing-secret.</summary>
internal static class RemoveSecretEndpoint
{
    public static async Task<Results<NoContent, ProblemHttpResult>> HandleAsync(
        string person, SigningSecrets secrets, NpgsqlDataSource database, CancellationToken cancellation)
    {
        var path = new PathCodes();
        var code = path.Read<PersonCode>("person", person);
        if (path.Refusal is { } refusal)
        {
            return refusal.ToProblem();
        }

        if (!await SetSecretEndpoint.IsKnownAsync(database, code, cancellation))
        {
            return SetSecretEndpoint.Unknown(code);
        }

        await secrets.RemoveAsync(code, cancellation);
        return TypedResults.NoContent();
    }
}
