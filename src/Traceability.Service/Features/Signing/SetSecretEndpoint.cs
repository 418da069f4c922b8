using Microsoft.AspNetCore.Http.HttpResults;
using Npgsql;
using Traceability.Domain.Facts;
using Traceability.Domain.People;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Security;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Signing;

/// <summary>PUT /api/people/{person}/signing-secret.</summary>
internal static class SetSecretEndpoint
{
    public static async Task<Results<NoContent, ProblemHttpResult>> HandleAsync(
        HttpContext context, string person, SigningSecrets secrets, NpgsqlDataSource database, CancellationToken cancellation)
    {
        var path = new PathCodes();
        var code = path.Read<PersonCode>("person", person);
        if (path.Refusal is { } refusal)
        {
            return refusal.ToProblem();
        }

        var (request, faults) = SigningSecretRequest.Read(await RequestBody.ReadAsync(context.Request, cancellation));
        if (request is null)
        {
            return new Refusal("signing-secret-malformed", RefusalKind.Malformed, "The secret can't be set as asked. Every fault is listed with its place.", faults).ToProblem();
        }

        if (!await IsKnownAsync(database, code, cancellation))
        {
            return Unknown(code);
        }

        await secrets.SetAsync(code, request.Secret, Caller.Of(context).Name, cancellation);
        return TypedResults.NoContent();
    }

    /// <summary>Whether the person is defined.</summary>
    public static async Task<bool> IsKnownAsync(NpgsqlDataSource database, PersonCode person, CancellationToken cancellation)
    {
        await using var connection = await database.OpenConnectionAsync(cancellation);
        var stream = StreamNames.Of(person);
        return (await EventReader.LoadAsync(connection, [stream], cancellation)).TryGetValue(stream, out var facts)
            && Person.Of(person, facts).Definition is not null;
    }

    /// <summary>404: nobody has this code.</summary>
    public static ProblemHttpResult Unknown(PersonCode person) =>
        Refusal.At("person-unknown", RefusalKind.Unknown, "person", $"Person {person} is not known. Define the person first.").ToProblem();
}
