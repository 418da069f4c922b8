using System.Net.Sockets;
using System.Text;
using Traceability.Acceptance.Robustness;
using Traceability.Testing;

namespace Traceability.Acceptance.Faults;

/// <summary>Requests that break off: a line that is pulled, a sender that is too slow. Nothing of it is a failure of the service, nor logged as one.</summary>
public sealed class BrokenRequestTests
{
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(30);

    private static readonly (string Path, string Type, string Length)[] Bodies =
    [
        ("/api/facts", "application/json", "Content-Length: 5000"),
        ("/api/facts", "application/json", "Transfer-Encoding: chunked"),
        ("/api/facts/batch", "application/x-ndjson", "Content-Length: 5000"),
        ("/api/facts/batch", "application/x-ndjson", "Transfer-Encoding: chunked"),
        ("/api/history", "application/x-ndjson", "Transfer-Encoding: chunked"),
        ("/api/scopes", "application/json", "Content-Length: 5000"),
    ];

    [Fact]
    public async Task What_breaks_off_is_answered_where_somebody_listens_and_logged_nowhere()
    {
        await using var empty = await PostgresServer.CreateDatabaseAsync();
        await using var service = await ServiceProcess.StartOnAsync(empty.ConnectionString, "--Postgres:AllowUnsafeDurability=true", "--Http:RateGracePeriod=00:00:02");
        var before = service.LastLines;
        List<(string Path, Socket Slow)> slow = [];
        foreach (var (path, type, length) in Bodies)
        {
            using (var ended = await BeginAsync(service, path, type, length))
            {
                // The ordinary end of a connection, in the midst of a body.
            }

            using (var reset = await BeginAsync(service, path, type, length))
            {
                reset.LingerState = new(enable: true, seconds: 0);
            }

            slow.Add((path, await BeginAsync(service, path, type, length)));
        }

        foreach (var (path, socket) in slow)
        {
            var answer = await ReadToEndAsync(socket);
            Assert.True(answer.StartsWith("HTTP/1.1 408 ", StringComparison.Ordinal), $"{path}: {answer}");
            Assert.Contains("request-timeout", answer, StringComparison.Ordinal);
            Assert.Contains("\r\nConnection: close\r\n", answer, StringComparison.OrdinalIgnoreCase);
            socket.Dispose();
        }

        // What can't be read is answered at once, and where the next request begins is not known.
        using var bad = await BeginAsync(service, "/api/facts", "application/json", "Transfer-Encoding: chunked");
        await bad.SendAsync("zz\r\n"u8.ToArray());
        var refused = await ReadToEndAsync(bad);
        Assert.StartsWith("HTTP/1.1 400 ", refused, StringComparison.Ordinal);
        Assert.Contains("\r\nConnection: close\r\n", refused, StringComparison.OrdinalIgnoreCase);
        Assert.Equal(before, service.LastLines);
    }

    private static async Task<Socket> BeginAsync(ServiceProcess service, string path, string type, string length)
    {
        var socket = new Socket(AddressFamily.InterNetwork, SocketType.Stream, ProtocolType.Tcp) { NoDelay = true };
        await socket.ConnectAsync(service.Address.Host, service.Address.Port);
        var part = length.EndsWith("chunked", StringComparison.Ordinal) ? "8\r\n{\"note\":\r\n" : "{\"note\":";
        await socket.SendAsync(Encoding.ASCII.GetBytes($"POST {path} HTTP/1.1\r\nHost: works\r\nAuthorization: Bearer {service.Key}\r\nContent-Type: {type}\r\n{length}\r\n\r\n{part}"));

        // Until the endpoint waits for the rest.
        await Task.Delay(200);
        return socket;
    }

    private static async Task<string> ReadToEndAsync(Socket socket)
    {
        using var timeout = new CancellationTokenSource(Patience);
        var buffer = new byte[8_192];
        var held = 0;
        try
        {
            for (int read; (read = await socket.ReceiveAsync(buffer.AsMemory(held), timeout.Token)) > 0; held += read)
            {
            }
        }
        catch (SocketException)
        {
            // The server had not read all that was sent. What it has answered was read before.
        }

        return Encoding.UTF8.GetString(buffer, 0, held);
    }
}
