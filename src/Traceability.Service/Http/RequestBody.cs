using System.Buffers;

namespace Traceability.Service.Http;

/// <summary>Reads a small body whole.</summary>
internal static class RequestBody
{
    /// <summary>The bytes of the body; the server's own limit on its size applies.</summary>
    public static async Task<ReadOnlyMemory<byte>> ReadAsync(HttpRequest request, CancellationToken cancellation)
    {
        var body = request.BodyReader;
        while (true)
        {
            var read = await body.ReadAsync(cancellation);
            if (read.IsCompleted)
            {
                var bytes = read.Buffer.ToArray();
                body.AdvanceTo(read.Buffer.End);
                return bytes;
            }

            body.AdvanceTo(read.Buffer.Start, read.Buffer.End);
        }
    }
}
