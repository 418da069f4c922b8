using System.Collections.Concurrent;
using System.Globalization;
using System.Net;
using System.Net.Sockets;

namespace Traceability.Testing.Faults;

/// <summary>Stands between a client and the service on loopback and breaks what passes, request by request, as it is told.</summary>
/// <remarks>
/// It speaks HTTP/1.1 as far as it must to know where a message ends. What it did is counted, so that a test can prove that
/// its faults hit. Members may be used from any thread. Plain HTTP only.
/// </remarks>
public sealed class FaultProxy : IAsyncDisposable
{
    private readonly TcpListener listener = new(IPAddress.Loopback, 0);
    private readonly CancellationTokenSource stopping = new();
    private readonly ConcurrentDictionary<Task, bool> connections = new();
    private readonly ConcurrentQueue<FaultHit> hits = new();
    private readonly Lock planning = new();
    private readonly Task accepting;
    private int requests;

    private FaultProxy(Uri upstream)
    {
        Upstream = upstream;
        listener.Start();
        Address = new(string.Create(CultureInfo.InvariantCulture, $"http://127.0.0.1:{((IPEndPoint)listener.LocalEndpoint).Port}"));
        accepting = AcceptAsync();
    }

    /// <summary>Gets the address that clients use.</summary>
    public Uri Address { get; }

    /// <summary>Gets or sets the address of the service; it may change while the proxy runs, as after a restart.</summary>
    public Uri Upstream { get; set; }

    /// <summary>Gets or sets what is done to a request, by its number from 0, in order of arrival; asked one at a time. Default: nothing.</summary>
    public Func<int, Fault> Plan { get; set; } = static _ => Fault.None;

    /// <summary>Gets or sets whether the way to the service is gone: connections are refused by closing them at once.</summary>
    public bool IsDown { get; set; }

    /// <summary>Gets how many requests came whole.</summary>
    public int Requests => Volatile.Read(ref requests);

    /// <summary>Gets the faults that hit, oldest first.</summary>
    public IReadOnlyList<FaultHit> Hits => [.. hits];

    /// <summary>Starts a proxy on a free port.</summary>
    public static FaultProxy Start(Uri upstream) => new(upstream);

    /// <summary>How often a kind of fault hit.</summary>
    public int Count(FaultKind kind) => hits.Count(h => h.Fault.Kind == kind);

    /// <inheritdoc />
    public async ValueTask DisposeAsync()
    {
        await stopping.CancelAsync();
        listener.Stop();
        await accepting;
        await Task.WhenAll(connections.Keys);
        stopping.Dispose();
        listener.Dispose();
    }

    private async Task AcceptAsync()
    {
        try
        {
            while (true)
            {
                var client = await listener.AcceptTcpClientAsync(stopping.Token);
                var serving = ServeAsync(client);
                connections[serving] = true;
                _ = serving.ContinueWith(done => connections.TryRemove(done, out _), CancellationToken.None, TaskContinuationOptions.None, TaskScheduler.Default);
            }
        }
        catch (Exception e) when (e is OperationCanceledException or SocketException or ObjectDisposedException)
        {
            // Stopped.
        }
    }

    private async Task ServeAsync(TcpClient client)
    {
        using var _ = client;
        client.NoDelay = true;
        if (IsDown)
        {
            Abort(client);
            return;
        }

        TcpClient? service = null;
        try
        {
            var incoming = new HttpFrame(client.GetStream());
            HttpFrame? answers = null;
            while (await incoming.ReadAsync(stopping.Token) is { } request)
            {
                if (IsDown)
                {
                    Abort(client);
                    return;
                }

                var (number, fault) = Next();
                if (service is null)
                {
                    service = await ConnectAsync();
                    answers = new(service.GetStream());
                }

                if (!await PassAsync(new(client, service, answers!, request, number, fault)))
                {
                    return;
                }
            }
        }
        catch (Exception e) when (e is IOException or SocketException or OperationCanceledException or ObjectDisposedException)
        {
            // One of the two ends is gone: so is this connection, as with any network.
            Abort(client);
        }
        finally
        {
            service?.Dispose();
        }
    }

    // One after another, so that a plan may draw from a source that is not for several threads.
    private (int Number, Fault Fault) Next()
    {
        lock (planning)
        {
            return (requests, Plan(requests++));
        }
    }

    // False: the connection is at its end.
    private async Task<bool> PassAsync(Exchange x)
    {
        switch (x.Fault.Kind)
        {
            case FaultKind.None:
                await x.Client.GetStream().WriteAsync(await AskAsync(x, x.Request.Length), stopping.Token);
                return true;
            case FaultKind.Reset:
                Note(x, 0);
                Abort(x.Client);
                return false;
            case FaultKind.CutRequest:
                var part = Math.Min((int)(x.Fault.At * x.Request.Length), x.Request.Length - 1);
                await x.Service.GetStream().WriteAsync(x.Request.AsMemory(0, part), stopping.Token);
                Note(x, part);
                Abort(x.Service);
                Abort(x.Client);
                return false;
            case FaultKind.CutResponse:
                var answer = await AskAsync(x, x.Request.Length);
                await x.Client.GetStream().WriteAsync(answer.AsMemory(0, Math.Min((int)(x.Fault.At * answer.Length), answer.Length - 1)), stopping.Token);
                Note(x, x.Request.Length, HttpFrame.Status(answer));
                Abort(x.Client);
                return false;
            case FaultKind.SilentBefore:
                Note(x, 0);
                await HoldAsync(x.Client);
                return false;
            case FaultKind.SilentAfter:
                Note(x, x.Request.Length, HttpFrame.Status(await AskAsync(x, x.Request.Length)));
                await HoldAsync(x.Client);
                return false;
            case FaultKind.Slow:
                await TrickleAsync(x.Service.GetStream(), x.Request, x.Fault.BytesPerSecond);
                var slow = await x.Answers.ReadAsync(stopping.Token) ?? throw new EndOfStreamException("The service closed.");
                Note(x, x.Request.Length, HttpFrame.Status(slow));
                await TrickleAsync(x.Client.GetStream(), slow, x.Fault.BytesPerSecond);
                return true;
            case FaultKind.Duplicate:
                await TwiceAsync(x);
                return true;
            default:
                throw new System.Diagnostics.UnreachableException();
        }
    }

    private async Task<byte[]> AskAsync(Exchange x, int length)
    {
        await x.Service.GetStream().WriteAsync(x.Request.AsMemory(0, length), stopping.Token);
        return await x.Answers.ReadAsync(stopping.Token) ?? throw new EndOfStreamException("The service closed.");
    }

    private async Task TwiceAsync(Exchange x)
    {
        using var second = await ConnectAsync();
        var copy = x with { Service = second, Answers = new(second.GetStream()) };
        var both = await Task.WhenAll(AskAsync(x, x.Request.Length), AskAsync(copy, x.Request.Length));
        Note(x, x.Request.Length, HttpFrame.Status(both[0]), HttpFrame.Status(both[1]));
        await x.Client.GetStream().WriteAsync(both[0], stopping.Token);
    }

    private void Note(Exchange x, int passedOn, params int[] statuses) => hits.Enqueue(new(x.Number, x.Fault, x.Request.Length, passedOn, statuses));

    private async Task<TcpClient> ConnectAsync()
    {
        var service = new TcpClient { NoDelay = true };
        try
        {
            await service.ConnectAsync(Upstream.Host, Upstream.Port, stopping.Token);
            return service;
        }
        catch
        {
            service.Dispose();
            throw;
        }
    }

    // Until the client gives up, or the proxy ends.
    private async Task HoldAsync(TcpClient client)
    {
        var nothing = new byte[1];
        while (await client.GetStream().ReadAsync(nothing, stopping.Token) > 0)
        {
        }
    }

    private async Task TrickleAsync(Stream to, byte[] bytes, int bytesPerSecond)
    {
        var part = Math.Max(1, bytesPerSecond / 20);
        for (var at = 0; at < bytes.Length; at += part)
        {
            await to.WriteAsync(bytes.AsMemory(at, Math.Min(part, bytes.Length - at)), stopping.Token);
            await Task.Delay(50, stopping.Token);
        }
    }

    // A reset, not an orderly end.
    private static void Abort(TcpClient client)
    {
        if (client.Client is { } socket)
        {
            socket.LingerState = new(enable: true, seconds: 0);
            socket.Close();
        }
    }

    private sealed record Exchange(TcpClient Client, TcpClient Service, HttpFrame Answers, byte[] Request, int Number, Fault Fault);
}
