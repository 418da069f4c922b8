using System.Net.Sockets;
using System.Text;

namespace Traceability.Acceptance.Faults;

/// <summary>Very many connections that are slow on purpose: at sending a head, at sending a body, at taking an answer.</summary>
/// <remarks>Most are just fast enough to be borne, so that they stay; the others are sent away and come again.</remarks>
internal sealed class SlowClients : IAsyncDisposable
{
    private static readonly TimeSpan Drip = TimeSpan.FromSeconds(3);

    private const int Head = 0;
    private const int Body = 1;
    private const int Taker = 2;
    private const int Borne = 3;
    private const int Asked = 200;

    // 300 bytes a second, where 240 are asked for.
    private const int BorneBytes = 1_500;
    private static readonly TimeSpan BornePause = TimeSpan.FromSeconds(5);

    private readonly CancellationTokenSource stopping = new();
    private readonly Uri address;
    private readonly string key;
    private readonly Task[] all;
    private readonly int[] open = new int[4];
    private readonly int[] cut = new int[4];
    private int refused;

    /// <summary>Connections that are open now, by kind: head, body, answer, body just fast enough; as many that the server has ended; tries to connect that failed.</summary>
    public string Counts => string.Join(' ', [.. open, .. cut, refused]);

    /// <summary>Opens them, one in three milliseconds: of twenty four heads, a body too slow, one that takes nothing, and fourteen bodies just fast enough.</summary>
    public SlowClients(Uri address, string key, int count)
    {
        (this.address, this.key) = (address, key);
        all = [.. Enumerable.Range(0, count).Select(i => Task.Run(() => RunAsync(i, (i % 20) switch { 0 => Taker, < 5 => Head, 5 => Body, _ => Borne })))];
    }

    /// <inheritdoc />
    public async ValueTask DisposeAsync()
    {
        await stopping.CancelAsync();
        await Task.WhenAll(all);
        stopping.Dispose();
    }

    private async Task RunAsync(int number, int kind)
    {
        try
        {
            // Ten thousand over the time that the server bears one: those that it sends away come again at once, and else all of them
            // would be sent away in the same moment, time and again. Ten thousand clients that know nothing of each other do not keep step.
            await Task.Delay(3 * number, stopping.Token);
            while (!stopping.IsCancellationRequested)
            {
                using var socket = new Socket(AddressFamily.InterNetwork, SocketType.Stream, ProtocolType.Tcp) { NoDelay = true, ReceiveBufferSize = kind == Taker ? 2_048 : 8_192 };
                try
                {
                    await socket.ConnectAsync(address.Host, address.Port, stopping.Token);
                }
                catch (SocketException)
                {
                    Interlocked.Increment(ref refused);
                    await Task.Delay(1_000, stopping.Token);
                    continue;
                }

                Interlocked.Increment(ref open[kind]);
                try
                {
                    await (kind switch { Taker => TakeSlowlyAsync(socket), Borne => SendJustFastEnoughAsync(socket, number), _ => SendSlowlyAsync(socket, kind, number) });
                    Interlocked.Increment(ref cut[kind]);
                }
                catch (SocketException)
                {
                    Interlocked.Increment(ref cut[kind]);
                }
                finally
                {
                    Interlocked.Decrement(ref open[kind]);
                }
            }
        }
        catch (OperationCanceledException)
        {
            // Told to end.
        }
    }

    // A few bytes now and then, until the server ends it.
    private async Task SendSlowlyAsync(Socket socket, int kind, int number)
    {
        await socket.SendAsync(Encoding.ASCII.GetBytes(kind == Head ? "GET /health/live HTTP/1.1\r\nHost: slow\r\nX-Slow: " : BodyHead), stopping.Token);
        var end = EndAsync(socket);
        while (true)
        {
            var pause = Drip + TimeSpan.FromMilliseconds(number % 500);
            if (await Task.WhenAny(end, Task.Delay(pause, stopping.Token)) == end)
            {
                await end;
                return;
            }

            stopping.Token.ThrowIfCancellationRequested();
            await socket.SendAsync("slow"u8.ToArray(), stopping.Token);
        }
    }

    private string BodyHead => $"POST /api/facts HTTP/1.1\r\nHost: slow\r\nAuthorization: Bearer {key}\r\nContent-Type: application/json\r\nContent-Length: 200000\r\n\r\n{{\"note\":\"";

    // Minutes for one body, and never slow enough to be sent away.
    private async Task SendJustFastEnoughAsync(Socket socket, int number)
    {
        await socket.SendAsync(Encoding.ASCII.GetBytes(BodyHead), stopping.Token);
        var part = new byte[BorneBytes];
        part.AsSpan().Fill((byte)'s');
        for (var sent = 0; sent < 190_000; sent += BorneBytes)
        {
            await socket.SendAsync(part, stopping.Token);
            await Task.Delay(BornePause - TimeSpan.FromMilliseconds(number % 700), stopping.Token);
        }
    }

    // Asks for much and takes nothing of it, until the server ends it.
    private async Task TakeSlowlyAsync(Socket socket)
    {
        // More than the buffers between the two hold.
        var ask = Encoding.ASCII.GetBytes("GET /docs/reference.js HTTP/1.1\r\nHost: slow\r\n\r\n");
        for (var i = 0; i < Asked; i++)
        {
            await socket.SendAsync(ask, stopping.Token);
        }

        while (true)
        {
            // Reading would be taking; whether the connection still stands is asked by writing.
            await Task.Delay(Drip, stopping.Token);
            await socket.SendAsync("\r\n"u8.ToArray(), stopping.Token);
        }
    }

    private async Task EndAsync(Socket socket)
    {
        var buffer = new byte[512];
        while (await socket.ReceiveAsync(buffer, stopping.Token) > 0)
        {
        }
    }
}
