using Microsoft.AspNetCore.Http.HttpResults;
using Npgsql;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;

namespace Traceability.Service.Features.Attachments;

/// <summary>GET /api/attachments/{hash}: to be saved, never to be shown in the page's own origin.</summary>
internal static class GetAttachmentEndpoint
{
    public static async Task<Results<FileContentHttpResult, ProblemHttpResult>> HandleAsync(
        string hash, HttpContext context, NpgsqlDataSource database, CancellationToken cancellation)
    {
        var path = new PathCodes();
        var name = path.Read<ContentHash>("hash", hash);
        if (path.Refusal is { } refusal)
        {
            return refusal.ToProblem();
        }

        await using var command = database.CreateCommand("select media_type, content from traceability.attachment where hash = $1");
        command.Parameters.Add(new() { Value = name.Value });
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        if (!await reader.ReadAsync(cancellation))
        {
            return Refusal.At("attachment-unknown", RefusalKind.Unknown, "hash", $"No file with the hash {name} is stored.").ToProblem();
        }

        // Should a browser open it after all, nothing in it may run. That its type is not guessed, every answer says.
        var mediaType = reader.GetString(0);
        context.Response.Headers.ContentSecurityPolicy = "default-src 'none'; sandbox; frame-ancestors 'none'";
        return TypedResults.Bytes(reader.GetFieldValue<byte[]>(1), MediaTypes.WithCharset(mediaType), $"{name.Value[..12]}.{MediaTypes.ExtensionOf(mediaType)}");
    }
}
