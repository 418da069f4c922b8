using System.Security.Cryptography;
using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Security;

namespace Traceability.Service.Features.Access;

/// <summary>POST /api/keys.</summary>
internal static class CreateKeyEndpoint
{
    public static async Task<Results<Created<CreatedKeyView>, ProblemHttpResult>> HandleAsync(
        HttpContext context,
        CreateKeyValidator validator,
        AccessKeyStore store,
        RandomNumberGenerator random,
        TimeProvider clock,
        CancellationToken cancellation)
    {
        var (request, faults) = CreateKeyReader.Read(await RequestBody.ReadAsync(context.Request, cancellation));
        if (request is null)
        {
            return Problems.Of(ProblemKind.BodyMalformed, "The body is not the JSON that this address takes. Every fault is listed with its place.", faults.Select(f => new ProblemPlace(f.Pointer, f.Detail)));
        }

        if (validator.Validate(request) is { IsValid: false } invalid)
        {
            Refusal refusal = new("key-malformed", RefusalKind.Malformed, "The key can't be given as asked.", [.. invalid.Errors.Select(AsFault)]);
            return refusal.ToProblem();
        }

        var id = new byte[16];
        random.GetBytes(id);
        var station = request.Station is { } code ? StationCode.Parse(code) : (StationCode?)null;
        var key = new AccessKey(KeyIds.FromRandom(id), request.Name, request.Role, station, clock.GetUtcNow(), null);
        var text = KeySecret.Make(random);
        if (!KeySecret.TryHash(text, out var hash) || !await store.AddAsync(key, hash, cancellation))
        {
            return Refusal.At(
                "key-name-taken",
                RefusalKind.Contradiction,
                "/name",
                $"There is or was a key named \"{request.Name}\". Records keep the name of the key that sent them, so each name is used once.").ToProblem();
        }

        return TypedResults.Created($"/api/keys/{key.Id}", new CreatedKeyView(key.Id, key.Name, key.Role, key.Station?.Value, key.CreatedAt, text));
    }

    private static Fault AsFault(FluentValidation.Results.ValidationFailure failure) =>
        new("/" + System.Text.Json.JsonNamingPolicy.CamelCase.ConvertName(failure.PropertyName), failure.ErrorMessage);
}
