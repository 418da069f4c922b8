using System.Net;
using System.Net.Sockets;
using System.Text;
using Npgsql;
using Testcontainers.PostgreSql;
using Traceability.Postgres;

namespace Traceability.Testing;

/// <summary>A server that tests may make databases on.</summary>
internal interface ITestServer
{
    /// <summary>Gets the connection string of a role that may create databases.</summary>
    string ConnectionString { get; }

    /// <summary>Throws unless the connection leads to the server that this process means.</summary>
    Task RequireOursAsync(NpgsqlConnection connection, CancellationToken cancellation);
}

/// <summary>The server that the environment names: whoever named it answers for it.</summary>
internal sealed class NamedTestServer(string connectionString) : ITestServer
{
    public string ConnectionString { get; } = connectionString;

    public Task RequireOursAsync(NpgsqlConnection connection, CancellationToken cancellation) => Task.CompletedTask;
}

/// <summary>A throw-away container; the library's own reaper removes it when this process ends.</summary>
internal sealed class ContainerTestServer : ITestServer
{
    private const string Image = "postgres:15";

    private static readonly TimeSpan AnswerTimeout = TimeSpan.FromMilliseconds(500);

    private ContainerTestServer(string connectionString) => ConnectionString = connectionString;

    public string ConnectionString { get; }

    /// <summary>Starts one if an engine answers; null if none does, which takes no longer than the timeout.</summary>
    internal static async Task<ContainerTestServer?> TryStartAsync()
    {
        if (!await EngineAnswersAsync())
        {
            return null;
        }

        try
        {
            var container = new PostgreSqlBuilder(Image).WithCommand("-c", "fsync=off", "-c", "max_connections=400").Build();
            await container.StartAsync();
            return new ContainerTestServer(container.GetConnectionString());
        }
        catch (Exception e) when (e is not OutOfMemoryException)
        {
            // No image to be had, say: the private server serves as well.
            await Console.Error.WriteLineAsync($"A container engine answers, but {Image} does not start ({e.Message}); using a private server.");
            return null;
        }
    }

    public Task RequireOursAsync(NpgsqlConnection connection, CancellationToken cancellation) => Task.CompletedTask;

    private static async Task<bool> EngineAnswersAsync()
    {
        var named = Environment.GetEnvironmentVariable("DOCKER_HOST");
        if (named is { Length: > 0 } && !named.StartsWith("unix://", StringComparison.Ordinal))
        {
            return Uri.TryCreate(named, UriKind.Absolute, out var uri)
                && await PingAsync(new DnsEndPoint(uri.Host, uri.Port < 0 ? 2375 : uri.Port), ProtocolType.Tcp);
        }

        var path = named is { Length: > 0 } ? named["unix://".Length..] : "/var/run/docker.sock";
        return File.Exists(path) && await PingAsync(new UnixDomainSocketEndPoint(path), ProtocolType.Unspecified);
    }

    private static async Task<bool> PingAsync(EndPoint engine, ProtocolType protocol)
    {
        using var timeout = new CancellationTokenSource(AnswerTimeout);
        try
        {
            using var socket = new Socket(SocketType.Stream, protocol);
            await socket.ConnectAsync(engine, timeout.Token);
            await socket.SendAsync("GET /_ping HTTP/1.0\r\n\r\n"u8.ToArray(), timeout.Token);
            var answer = new byte[64];
            var length = await socket.ReceiveAsync(answer, timeout.Token);
            return Encoding.ASCII.GetString(answer, 0, length).Contains(" 200 ", StringComparison.Ordinal);
        }
        catch (Exception e) when (e is SocketException or OperationCanceledException)
        {
            return false;
        }
    }
}

/// <summary>A private server in a temporary folder, without durability; it ends when this process does, however that ends.</summary>
internal sealed class PrivateTestServer : ITestServer
{
    private const string Prefix = "traceability-test-";

    private readonly EmbeddedPostgres server;
    private readonly string folder;

    private PrivateTestServer(EmbeddedPostgres server, string folder)
    {
        this.server = server;
        this.folder = folder;
    }

    public string ConnectionString => server.SuperuserConnectionString;

    internal static async Task<PrivateTestServer> StartAsync()
    {
        await SweepAsync();
        var made = TestFolder.Make(Prefix);
        var started = await EmbeddedPostgres.StartAsync(new EmbeddedPostgresOptions
        {
            DataFolder = made,
            Durability = PostgresDurability.TestOnly,
            Log = message => Console.Error.WriteLine(message),
        });
        return new PrivateTestServer(started, made);
    }

    public async Task RequireOursAsync(NpgsqlConnection connection, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand("SHOW data_directory", connection);
        var answered = await command.ExecuteScalarAsync(cancellation) as string;
        if (!string.Equals(answered, server.DataDirectory, StringComparison.Ordinal))
        {
            throw new InvalidOperationException($"The server keeps its data in {answered}, not in {server.DataDirectory}: it is not this process's.");
        }
    }

    internal async Task StopAsync()
    {
        await server.DisposeAsync();
        Directory.Delete(folder, recursive: true);
    }

    /// <summary>Removes what killed test processes left: folders whose lock nobody holds.</summary>
    private static async Task SweepAsync()
    {
        foreach (var left in Directory.GetDirectories(Path.GetTempPath(), Prefix + "*"))
        {
            try
            {
                var lockFile = Path.Combine(left, "postgres.lock");
                if (!File.Exists(lockFile))
                {
                    continue;
                }

                await using var held = new FileStream(lockFile, FileMode.Open, FileAccess.ReadWrite, FileShare.None);
                Directory.Delete(left, recursive: true);
            }
            catch (Exception e) when (e is IOException or UnauthorizedAccessException)
            {
                // In use, another user's, or its server is still shutting down: not ours to remove now.
            }
        }
    }
}
