using System.Globalization;
using System.Text;

namespace Traceability.Testing.Faults;

/// <summary>One HTTP/1.1 message as bytes (RFC 9112): enough of it to know where it ends.</summary>
internal sealed class HttpFrame(Stream stream)
{
    private const int BytesMax = 128 * 1024 * 1024;

    private readonly byte[] chunk = new byte[16 * 1024];
    private byte[] left = [];

    /// <summary>Reads a whole message; null if the other side closed before one began.</summary>
    public async Task<byte[]?> ReadAsync(CancellationToken cancellation)
    {
        using var message = new MemoryStream();
        message.Write(left);
        left = [];
        int? end = null;
        while (true)
        {
            end ??= HeadEnd(message);
            if (end is { } head && BodyEnd(message, head) is { } whole)
            {
                left = message.GetBuffer()[whole..(int)message.Length];
                message.SetLength(whole);
                return message.ToArray();
            }

            var read = await stream.ReadAsync(chunk, cancellation);
            if (read == 0)
            {
                return message.Length == 0 ? null : throw new EndOfStreamException("The message ends before its end.");
            }

            message.Write(chunk, 0, read);
            if (message.Length > BytesMax)
            {
                throw new InvalidOperationException("The message is too long for a test.");
            }
        }
    }

    /// <summary>The status of an answer.</summary>
    public static int Status(byte[] answer) => int.Parse(Encoding.ASCII.GetString(answer, 9, 3), CultureInfo.InvariantCulture);

    private static int? HeadEnd(MemoryStream message)
    {
        var at = message.GetBuffer().AsSpan(0, (int)message.Length).IndexOf("\r\n\r\n"u8);
        return at < 0 ? null : at + 4;
    }

    private static int? BodyEnd(MemoryStream message, int head)
    {
        var bytes = message.GetBuffer().AsSpan(0, (int)message.Length);
        var text = Encoding.ASCII.GetString(bytes[..head]);
        if (Header(text, "Transfer-Encoding")?.EndsWith("chunked", StringComparison.OrdinalIgnoreCase) == true)
        {
            return ChunkedEnd(bytes, head);
        }

        // Without either header a request has no body; an answer of this service always has one of them, or none at all.
        var whole = head + int.Parse(Header(text, "Content-Length") ?? "0", NumberStyles.None, CultureInfo.InvariantCulture);
        return bytes.Length >= whole ? whole : null;
    }

    private static int? ChunkedEnd(ReadOnlySpan<byte> bytes, int at)
    {
        while (true)
        {
            var line = bytes[at..].IndexOf("\r\n"u8);
            if (line < 0)
            {
                return null;
            }

            var size = int.Parse(Encoding.ASCII.GetString(bytes.Slice(at, line)).Split(';')[0], NumberStyles.HexNumber, CultureInfo.InvariantCulture);
            at += line + 2 + size + 2;
            if (at > bytes.Length)
            {
                return null;
            }

            if (size == 0)
            {
                return at;
            }
        }
    }

    private static string? Header(string head, string name)
    {
        foreach (var line in head.Split("\r\n"))
        {
            if (line.Length > name.Length && line[name.Length] == ':' && line.StartsWith(name, StringComparison.OrdinalIgnoreCase))
            {
                return line[(name.Length + 1)..].Trim();
            }
        }

        return null;
    }
}
