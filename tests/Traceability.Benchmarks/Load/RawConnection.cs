using System.Diagnostics;
using System.Net;
using System.Net.Sockets;
using System.Text;

namespace Traceability.Benchmarks.Load;

/// <summary>One HTTP/1.1 connection that sends requests made beforehand and reads no more of an answer than it must.</summary>
/// <remarks>So that the client costs little, and the same for every server.</remarks>
internal sealed class RawConnection : IDisposable
{
    private readonly Socket _socket = new(SocketType.Stream, ProtocolType.Tcp) { NoDelay = true };
    private byte[] _buffer = new byte[32 * 1024];
    private int _length;

    /// <summary>The last answer, head and body.</summary>
    public string LastAnswer => Encoding.UTF8.GetString(_buffer, 0, _length);

    public static async Task<RawConnection> OpenAsync(IPEndPoint at)
    {
        var connection = new RawConnection();
        await connection._socket.ConnectAsync(at);
        return connection;
    }

    /// <summary>Sends a request, reads the answer whole, and gives its status.</summary>
    public async ValueTask<int> SendAsync(ReadOnlyMemory<byte> request)
    {
        for (var sent = 0; sent < request.Length;)
        {
            sent += await _socket.SendAsync(request[sent..], SocketFlags.None);
        }

        for (_length = 0; ;)
        {
            if (Took(await _socket.ReceiveAsync(Room(), SocketFlags.None)) is { } status)
            {
                return status;
            }
        }
    }

    /// <summary>The same on the caller's thread, so that what it takes is not the time until this process comes round to it.</summary>
    public int Send(ReadOnlySpan<byte> request)
    {
        while (!request.IsEmpty)
        {
            request = request[_socket.Send(request)..];
        }

        for (_length = 0; ;)
        {
            if (Took(_socket.Receive(Room().Span)) is { } status)
            {
                return status;
            }
        }
    }

    /// <summary>
    /// Asks the same for ten seconds, until the runtime has compiled what is asked often, which takes about a thousand questions: what is measured
    /// then is what a service takes that runs for long.
    /// </summary>
    public async Task WarmUpAsync(ReadOnlyMemory<byte> request)
    {
        for (var started = Stopwatch.GetTimestamp(); Stopwatch.GetElapsedTime(started) < TimeSpan.FromSeconds(10);)
        {
            if (await SendAsync(request) is not 200)
            {
                throw new InvalidOperationException($"The service was asked to be warm, and answered {LastAnswer}");
            }
        }
    }

    public void Dispose() => _socket.Dispose();

    private Memory<byte> Room()
    {
        if (_length == _buffer.Length)
        {
            Array.Resize(ref _buffer, _buffer.Length * 2);
        }

        return _buffer.AsMemory(_length);
    }

    // The status once the answer is there whole.
    private int? Took(int read)
    {
        _length += read > 0 ? read : throw new IOException("The server closed the connection.");
        return IsWhole(_buffer.AsSpan(0, _length)) ? ((_buffer[9] - '0') * 100) + ((_buffer[10] - '0') * 10) + (_buffer[11] - '0') : null;
    }

    private static bool IsWhole(ReadOnlySpan<byte> answer)
    {
        var head = answer.IndexOf("\r\n\r\n"u8);
        if (head < 0)
        {
            return false;
        }

        var at = answer[..head].IndexOf("Content-Length: "u8);
        if (at >= 0)
        {
            _ = System.Buffers.Text.Utf8Parser.TryParse(answer[(at + 16)..], out int length, out _);
            return answer.Length >= head + 4 + length;
        }

        return answer.EndsWith("0\r\n\r\n"u8);
    }
}
