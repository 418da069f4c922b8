using System.Diagnostics;
using Npgsql;
using Traceability.Postgres;

namespace Traceability.Testing;

/// <summary>A PostgreSQL server of a test's own, whose settings are in its files, so that a test may change them; and standbys of it.</summary>
/// <remarks>It listens on a unix socket only, and ends when this process does, however that ends.</remarks>
public sealed class PlainServer : IAsyncDisposable
{
    private const string Keeper = "\"$0\" \"$@\" </dev/null & p=$!; cat >/dev/null; kill -INT $p; wait $p";

    private readonly string _folder;
    private Process? _process;

    private PlainServer(string folder) => _folder = folder;

    /// <summary>Gets the connection string of the superuser.</summary>
    public string ConnectionString => new NpgsqlConnectionStringBuilder
    {
        Host = Sockets,
        Port = 5432,
        Username = "postgres",
        Database = "postgres",
        Timeout = 3,
        MaxPoolSize = 30,
    }.ConnectionString;

    /// <summary>Gets the folder of the server's socket: its address.</summary>
    public string Sockets => Path.Combine(_folder, "s");

    private string Data => Path.Combine(_folder, "d");

    private static string Binaries => PostgresBinaries.Find().Folder;

    private static bool IsRoot => Environment.UserName == "root";

    /// <summary>Makes and starts a server with checksums and with durability, such as the service asks for.</summary>
    public static async Task<PlainServer> StartAsync(params string[] settings)
    {
        var server = await MakeAsync();
        await RunAsync(Path.Combine(Binaries, "initdb"), "-k", "-A", "trust", "-U", "postgres", "--no-sync", "-D", server.Data);
        await File.AppendAllLinesAsync(Path.Combine(server.Data, "postgresql.conf"), ["listen_addresses = ''", $"unix_socket_directories = '{server.Sockets}'", "max_connections = 150", .. settings]);
        await server.RunAsync();
        return server;
    }

    /// <summary>Makes and starts a standby that follows this server by streaming.</summary>
    public async Task<PlainServer> StandbyAsync()
    {
        var standby = await MakeAsync();
        await RunAsync(Path.Combine(Binaries, "pg_basebackup"), "-h", Sockets, "-U", "postgres", "-D", standby.Data, "-R", "-X", "stream", "-c", "fast");
        await File.AppendAllLinesAsync(Path.Combine(standby.Data, "postgresql.conf"), [$"unix_socket_directories = '{standby.Sockets}'"]);
        await standby.RunAsync();
        return standby;
    }

    /// <summary>Runs a statement as superuser.</summary>
    public async Task<object?> ExecuteAsync(string sql)
    {
        await using var connection = new NpgsqlConnection(new NpgsqlConnectionStringBuilder(ConnectionString) { Pooling = false }.ConnectionString);
        await connection.OpenAsync();
        await using var command = new NpgsqlCommand(sql, connection);
        return await command.ExecuteScalarAsync();
    }

    /// <summary>Ends the server at once, as a crash would.</summary>
    public async Task KillAsync()
    {
        if (_process is { } process)
        {
            _process = null;
            var pid = (await File.ReadAllLinesAsync(Path.Combine(Data, "postmaster.pid")))[0];
            await ToolAsync("kill", "-QUIT", pid);
            process.StandardInput.Close();
            await process.WaitForExitAsync();
            process.Dispose();
        }
    }

    /// <inheritdoc />
    public async ValueTask DisposeAsync()
    {
        await KillAsync();
        _process?.Dispose();
        Directory.Delete(_folder, recursive: true);
    }

    private static async Task<PlainServer> MakeAsync()
    {
        var server = new PlainServer(TestFolder.Make("trc-"));
        foreach (var folder in new[] { server.Data, server.Sockets })
        {
            Directory.CreateDirectory(folder);
            await ToolAsync("chmod", "700", folder);
            if (IsRoot)
            {
                await ToolAsync("chown", "postgres:", folder);
            }
        }

        return server;
    }

    private static Task RunAsync(string program, params string[] arguments) => IsRoot
        ? ToolAsync("setpriv", ["--reuid=postgres", "--regid=postgres", "--clear-groups", "--", program, .. arguments])
        : ToolAsync(program, arguments);

    private static async Task ToolAsync(string program, params string[] arguments)
    {
        using var process = Process.Start(new ProcessStartInfo(program, arguments) { RedirectStandardError = true, RedirectStandardOutput = true, UseShellExecute = false, WorkingDirectory = "/" })!;
        var output = process.StandardOutput.ReadToEndAsync();
        var error = await process.StandardError.ReadToEndAsync();
        await process.WaitForExitAsync();
        if (process.ExitCode != 0)
        {
            throw new InvalidOperationException($"{program} failed: {error} {await output}");
        }
    }

    private async Task RunAsync()
    {
        string[] server = [Path.Combine(Binaries, "postgres"), "-D", Data];
        string[] command = IsRoot ? ["setpriv", "--reuid=postgres", "--regid=postgres", "--clear-groups", "--", .. server] : server;
        _process = Process.Start(new ProcessStartInfo("sh", ["-c", Keeper, .. command])
        {
            RedirectStandardInput = true,
            RedirectStandardError = true,
            UseShellExecute = false,
            WorkingDirectory = "/",
        })!;
        _ = _process.StandardError.ReadToEndAsync();
        var clock = Stopwatch.StartNew();
        while (true)
        {
            try
            {
                await ExecuteAsync("select 1");
                return;
            }
            catch (NpgsqlException) when (clock.Elapsed < TimeSpan.FromSeconds(30))
            {
                await Task.Delay(50);
            }
        }
    }
}
