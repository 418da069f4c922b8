using System.Text.Json;
using Microsoft.AspNetCore.Http.HttpResults;
using Npgsql;
using Traceability.Contracts.Facts;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Security;

namespace Traceability.Service.Features.Recording;

/// <summary>GET /api/facts/{factId}: a fact as it was recorded.</summary>
internal static class GetFactEndpoint
{
    public static void Map(IEndpointRouteBuilder api) =>
        api.MapGet("/facts/{factId}", HandleAsync)
            .RequireAuthorization(Policies.Read)
            .WithName("getFact")
            .WithTags("Facts")
            .WithSummary("Gives a fact as it was recorded")
            .Produces<StoredFact>()
            .ProducesProblem(StatusCodes.Status400BadRequest)
            .ProducesProblem(StatusCodes.Status401Unauthorized)
            .ProducesProblem(StatusCodes.Status404NotFound);

    private static async Task<Results<Ok<StoredFact>, ProblemHttpResult>> HandleAsync(
        string factId, NpgsqlDataSource database, CancellationToken cancellation)
    {
        if (!Guid.TryParse(factId, out var id))
        {
            return Refusal.At("path-invalid", RefusalKind.Malformed, "factId", $"'{factId}' is not a UUID.").ToProblem();
        }

        await using var command = database.CreateCommand(
            """
            select r.stream, r.version, e.type, e.data::text, r.recorded_at
            from traceability.receipt r join events.mt_events e on e.stream_id = r.stream and e.version = r.version
            where r.fact_id = $1
            """);
        command.Parameters.Add(new() { Value = id });
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        if (!await reader.ReadAsync(cancellation))
        {
            return Refusal.At("fact-unknown", RefusalKind.Unknown, "factId", $"No fact {id} is recorded.").ToProblem();
        }

        return TypedResults.Ok(new StoredFact(
            id,
            reader.GetString(2).Replace('_', '-'),
            reader.GetString(0),
            reader.GetInt32(1),
            reader.GetFieldValue<DateTimeOffset>(4),
            JsonSerializer.Deserialize<JsonElement>(reader.GetString(3))));
    }
}
