using System.Globalization;
using System.Net.Sockets;
using System.Text;

namespace Traceability.Acceptance.Faults;

/// <summary>What came back on the wire.</summary>
/// <param name="Status">The status; 0: the server closed the connection without an answer.</param>
/// <param name="Head">The head, in lower case.</param>
/// <param name="Body">The body.</param>
internal sealed record WireAnswer(int Status, string Head, string Body);

/// <summary>A connection that sends bytes as they are, right or wrong, and reads what comes back. For one thread.</summary>
internal sealed class WireClient(Uri address) : IDisposable
{
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(20);

    private TcpClient? client;
    private byte[] held = [];

    /// <summary>Sends a request and reads the answer; throws a <see cref="TimeoutException"/> when nothing comes within the bound.</summary>
    /// <param name="bytes">The request.</param>
    /// <param name="isWhole">Whether the server can tell where the request ends; if not, the connection is closed for sending behind it.</param>
    public async Task<WireAnswer> SendAsync(byte[] bytes, bool isWhole)
    {
        // After a request that it has refused the server may close the connection when the answer is on its way already: what was
        // sent behind it is sent again on another, as every client does.
        var isUsed = client is not null;
        var answer = await TryAsync(bytes, isWhole);
        return answer.Status == 0 && isUsed ? await TryAsync(bytes, isWhole) : answer;
    }

    /// <summary>Closes the connection; the next request opens another.</summary>
    public void Close()
    {
        client?.Dispose();
        client = null;
    }

    /// <inheritdoc />
    public void Dispose() => Close();

    private async Task<WireAnswer> TryAsync(byte[] bytes, bool isWhole)
    {
        using var timeout = new CancellationTokenSource(Patience);
        try
        {
            if (client is null)
            {
                client = new() { NoDelay = true };
                held = [];
                await client.ConnectAsync(address.Host, address.Port, timeout.Token);
            }

            var stream = client.GetStream();
            await stream.WriteAsync(bytes, timeout.Token);
            if (!isWhole)
            {
                client.Client.Shutdown(SocketShutdown.Send);
            }

            var answer = await ReadAsync(stream, timeout.Token);
            if (!isWhole || answer.Status == 0 || answer.Head.Contains("connection: close", StringComparison.Ordinal))
            {
                Close();
            }

            return answer;
        }
        catch (Exception e) when (e is IOException or SocketException)
        {
            // The server has closed it while it was written to, as it may do with a body that it refuses.
            Close();
            return new(0, string.Empty, string.Empty);
        }
        catch (OperationCanceledException e)
        {
            Close();
            throw new TimeoutException($"No answer within {Patience}.", e);
        }
    }

    private async Task<WireAnswer> ReadAsync(NetworkStream stream, CancellationToken cancellation)
    {
        while (true)
        {
            var end = held.AsSpan().IndexOf("\r\n\r\n"u8);
            while (end < 0)
            {
                if (!await MoreAsync(stream, cancellation))
                {
                    return new(0, string.Empty, string.Empty);
                }

                end = held.AsSpan().IndexOf("\r\n\r\n"u8);
            }

            var head = Encoding.Latin1.GetString(held, 0, end + 2).ToLowerInvariant();
            var status = int.Parse(head.AsSpan(9, 3), NumberStyles.None, CultureInfo.InvariantCulture);
            held = held[(end + 4)..];
            if (status == 100)
            {
                continue;
            }

            return new(status, head, await BodyAsync(stream, head, status, cancellation));
        }
    }

    private async Task<string> BodyAsync(NetworkStream stream, string head, int status, CancellationToken cancellation)
    {
        if (status is 204 or 304)
        {
            return string.Empty;
        }

        var at = head.IndexOf("content-length: ", StringComparison.Ordinal);
        if (at >= 0)
        {
            var length = int.Parse(head.AsSpan(at + 16, head.IndexOf('\r', at) - at - 16), NumberStyles.None, CultureInfo.InvariantCulture);
            while (held.Length < length && await MoreAsync(stream, cancellation))
            {
            }

            var taken = Math.Min(length, held.Length);
            var text = Encoding.UTF8.GetString(held, 0, taken);
            held = held[taken..];
            return text;
        }

        return head.Contains("transfer-encoding: chunked", StringComparison.Ordinal) ? await ChunksAsync(stream, cancellation) : string.Empty;
    }

    private async Task<string> ChunksAsync(NetworkStream stream, CancellationToken cancellation)
    {
        List<byte> body = [];
        while (true)
        {
            var end = held.AsSpan().IndexOf("\r\n"u8);
            if (end < 0)
            {
                if (!await MoreAsync(stream, cancellation))
                {
                    break;
                }

                continue;
            }

            var length = int.Parse(Encoding.Latin1.GetString(held, 0, end), NumberStyles.HexNumber, CultureInfo.InvariantCulture);
            while (held.Length < end + 2 + length + 2 && await MoreAsync(stream, cancellation))
            {
            }

            body.AddRange(held[(end + 2)..(end + 2 + length)]);
            held = held[(end + 2 + length + 2)..];
            if (length == 0)
            {
                break;
            }
        }

        return Encoding.UTF8.GetString([.. body]);
    }

    private async Task<bool> MoreAsync(NetworkStream stream, CancellationToken cancellation)
    {
        var buffer = new byte[32 * 1024];
        var read = await stream.ReadAsync(buffer, cancellation);
        held = [.. held, .. buffer.AsSpan(0, read)];
        return read > 0;
    }
}
