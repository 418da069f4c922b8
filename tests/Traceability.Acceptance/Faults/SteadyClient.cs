using System.Globalization;
using System.Net.Sockets;
using System.Text;

namespace Traceability.Acceptance.Faults;

/// <summary>A client that is not slow, on a thread and a connection of its own, so that what it measures is not the measuring process's own queue.</summary>
internal sealed class SteadyClient(Uri address, string key) : IDisposable
{
    private readonly Socket socket = Connect(address);
    private readonly byte[] buffer = new byte[64 * 1024];

    /// <summary>Sends a request and takes the answer; gives the status.</summary>
    public int Send(string method, string path, string? body)
    {
        var request = string.Create(CultureInfo.InvariantCulture, $"{method} {path} HTTP/1.1\r\nHost: steady\r\nAuthorization: Bearer {key}\r\n")
            + (body is null ? "\r\n" : string.Create(CultureInfo.InvariantCulture, $"Content-Type: application/json\r\nContent-Length: {Encoding.UTF8.GetByteCount(body)}\r\n\r\n{body}"));
        socket.Send(Encoding.UTF8.GetBytes(request));
        var held = 0;
        while (true)
        {
            var read = socket.Receive(buffer, held, buffer.Length - held, SocketFlags.None);
            held += read > 0 ? read : throw new IOException("The server has closed a connection that was not slow.");
            var end = buffer.AsSpan(0, held).IndexOf("\r\n\r\n"u8);
            if (end >= 0 && IsWhole(Encoding.Latin1.GetString(buffer, 0, end + 2), end + 4, held))
            {
                return int.Parse(Encoding.Latin1.GetString(buffer, 9, 3), CultureInfo.InvariantCulture);
            }
        }
    }

    /// <inheritdoc />
    public void Dispose() => socket.Dispose();

    private bool IsWhole(string head, int start, int held)
    {
        const string length = "Content-Length: ";
        var at = head.IndexOf(length, StringComparison.OrdinalIgnoreCase);
        return at >= 0
            ? held >= start + int.Parse(head.AsSpan(at + length.Length, head.IndexOf('\r', at) - at - length.Length), CultureInfo.InvariantCulture)
            : buffer.AsSpan(0, held).EndsWith("0\r\n\r\n"u8);
    }

    private static Socket Connect(Uri address)
    {
        var made = new Socket(AddressFamily.InterNetwork, SocketType.Stream, ProtocolType.Tcp) { NoDelay = true, ReceiveTimeout = 30_000 };
        made.Connect(address.Host, address.Port);
        return made;
    }
}
