using System.Security.Cryptography;
using Microsoft.AspNetCore.Http.HttpResults;
using Npgsql;
using Traceability.Contracts.Attachments;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Security;

namespace Traceability.Service.Features.Attachments;

/// <summary>POST /api/attachments.</summary>
internal static class PostAttachmentEndpoint
{
    public static async Task<Results<Created<StoredAttachment>, Ok<StoredAttachment>, ProblemHttpResult>> HandleAsync(
        HttpContext context, NpgsqlDataSource database, TimeProvider clock, CancellationToken cancellation)
    {
        var content = await RequestBody.ReadAsync(context.Request, cancellation);
        var mediaType = MediaTypes.Said(context.Request);
        if (MediaTypes.FaultOf(content.Span, mediaType) is { } fault)
        {
            return Refusal.At("attachment-malformed", RefusalKind.Malformed, string.Empty, fault).ToProblem();
        }

        var hash = ContentHash.Of(SHA256.HashData(content.Span));
        await using var connection = await database.OpenConnectionAsync(cancellation);
        await using var insert = new NpgsqlCommand(
            "insert into traceability.attachment (hash, media_type, bytes, content, stored_at, stored_by) values ($1, $2, $3, $4, $5, $6) on conflict (hash) do nothing", connection)
        {
            Parameters =
            {
                new() { Value = hash.Value },
                new() { Value = mediaType },
                new() { Value = content.Length },
                new() { Value = content },
                new() { Value = clock.GetUtcNow().UtcDateTime },
                new() { Value = Caller.Of(context).Name },
            },
        };
        var isNew = await insert.ExecuteNonQueryAsync(cancellation) == 1;

        // The first upload counts: the same bytes may have been called plain text then and a table now.
        await using var select = new NpgsqlCommand("select media_type, bytes, stored_at from traceability.attachment where hash = $1", connection) { Parameters = { new() { Value = hash.Value } } };
        await using var reader = await select.ExecuteReaderAsync(cancellation);
        await reader.ReadAsync(cancellation);
        var stored = new StoredAttachment(hash.Value, reader.GetString(0), reader.GetInt32(1), reader.GetFieldValue<DateTimeOffset>(2));
        return isNew ? TypedResults.Created($"/api/attachments/{hash}", stored) : TypedResults.Ok(stored);
    }
}
