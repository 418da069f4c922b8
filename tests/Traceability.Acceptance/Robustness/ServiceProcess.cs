using System.Collections.Concurrent;
using System.Diagnostics;
using System.Globalization;
using System.Net;
using System.Net.Sockets;
using Npgsql;
using Traceability.Acceptance.Faults;
using Traceability.Service;
using Traceability.Testing;

namespace Traceability.Acceptance.Robustness;

/// <summary>The service as a process of its own, so that a test can kill it or make it stand still.</summary>
/// <remarks>Without a connection string it has a private database that is as durable as it gets. Its address stays the same over restarts.</remarks>
internal sealed class ServiceProcess : IAsyncDisposable
{
    private const int LinesKept = 60;
    private static readonly TimeSpan StartTimeout = TimeSpan.FromSeconds(90);
    private static readonly TimeSpan StopTimeout = TimeSpan.FromSeconds(60);

    private readonly string folder = TestFolder.Make("traceability-kill-");
    private readonly ConcurrentQueue<string> lines = new();
    private readonly string? connectionString;
    private readonly string[] settings;
    private Process? process;
    private NpgsqlDataSource? database;

    private ServiceProcess(string? connectionString, string[] settings)
    {
        this.connectionString = connectionString;
        this.settings = settings;
        Address = new(string.Create(CultureInfo.InvariantCulture, $"http://127.0.0.1:{FreePort()}"));
    }

    /// <summary>The service's address.</summary>
    public Uri Address { get; }

    /// <summary>The process, of the last start.</summary>
    public int ProcessId => process?.Id ?? 0;

    /// <summary>The administrator's key, made at the first start on a database.</summary>
    public string Key => File.ReadAllText(Path.Combine(folder, "administrator-key")).Trim();

    /// <summary>Where the private database is kept.</summary>
    public string Cluster => Path.Combine(folder, "cluster");

    /// <summary>The last lines that the service wrote.</summary>
    public string LastLines => string.Join('\n', lines);

    /// <summary>The service's database; the private one through its socket.</summary>
    public NpgsqlDataSource Database => database ??= NpgsqlDataSource.Create(connectionString ?? new NpgsqlConnectionStringBuilder
    {
        // The second line of the owner's note says where the socket is.
        Host = File.ReadAllLines(Path.Combine(folder, "postgres.owner"))[1],
        Username = "traceability",
        Database = "traceability",
        Pooling = false,
    }.ConnectionString);

    /// <summary>Starts the service in a new data folder and waits until it is ready.</summary>
    public static Task<ServiceProcess> StartAsync(params string[] settings) => StartOnAsync(null, settings);

    /// <summary>The same on a server that is there; null: a private one.</summary>
    public static async Task<ServiceProcess> StartOnAsync(string? connectionString, params string[] settings)
    {
        var service = new ServiceProcess(connectionString, settings);
        try
        {
            await service.RunAsync();
            return service;
        }
        catch
        {
            await service.DisposeAsync();
            throw;
        }
    }

    /// <summary>kill -9: the service gets no chance to say goodbye.</summary>
    /// <param name="with">Further processes that are killed at the same moment.</param>
    public async Task KillAsync(params IEnumerable<int> with)
    {
        var killed = process!;
        await Signals.SendAsync("KILL", [killed.Id, .. with]);
        await killed.WaitForExitAsync();
        killed.Dispose();
        process = null;
        Forget();
    }

    /// <summary>Stands still until it is told to go on: SIGSTOP and SIGCONT.</summary>
    public Task PauseAsync() => Signals.SendAsync("STOP", ProcessId);

    /// <summary>Goes on.</summary>
    public Task ResumeAsync() => Signals.SendAsync("CONT", ProcessId);

    /// <summary>Lets go of the connections of <see cref="Database"/>: the server is another one now.</summary>
    public void Forget()
    {
        database?.Dispose();
        database = null;
    }

    /// <summary>Starts the service on its data folder, as a supervisor would, and waits until it is ready.</summary>
    public async Task RunAsync()
    {
        Begin();
        await ReadyAsync();
    }

    /// <summary>Starts it and does not wait.</summary>
    public void Begin()
    {
        process = Process.Start(new ProcessStartInfo("dotnet",
        [
            typeof(TraceabilityService).Assembly.Location, "--urls", Address.ToString(), $"--Postgres:DataFolder={folder}", "--Logging:LogLevel:Default=Warning",
            .. connectionString is null ? Array.Empty<string>() : [$"--ConnectionStrings:Traceability={connectionString}"],
            .. settings,
        ])
        {
            UseShellExecute = false,
            WorkingDirectory = folder,
            RedirectStandardOutput = true,

            // The room for new objects that deploy/run gives the service.
            Environment = { ["DOTNET_GCgen0size"] = "2000000" },
        })!;

        // Read, so that it is never held up.
        process.OutputDataReceived += (sender, line) =>
        {
            lines.Enqueue(line.Data ?? string.Empty);
            while (lines.Count > LinesKept)
            {
                lines.TryDequeue(out _);
            }
        };
        process.BeginOutputReadLine();
    }

    /// <summary>Waits until it is ready.</summary>
    public async Task ReadyAsync()
    {
        using var client = new HttpClient { BaseAddress = Address, Timeout = TimeSpan.FromSeconds(5) };
        var started = Stopwatch.GetTimestamp();
        while (!await IsReadyAsync(client))
        {
            if (process!.HasExited || Stopwatch.GetElapsedTime(started) > StartTimeout)
            {
                throw new InvalidOperationException((process.HasExited ? $"The service ended by itself with {process.ExitCode}." : "The service is not ready in time.") + "\n" + LastLines);
            }

            await Task.Delay(50);
        }
    }

    /// <summary>Whether its readiness answers that it is.</summary>
    public static async Task<bool> IsReadyAsync(HttpClient client)
    {
        try
        {
            using var answer = await client.GetAsync("/health/ready");
            return answer.IsSuccessStatusCode;
        }
        catch (Exception e) when (e is HttpRequestException or OperationCanceledException)
        {
            return false;
        }
    }

    /// <inheritdoc />
    public async ValueTask DisposeAsync()
    {
        Forget();
        if (process is { HasExited: false })
        {
            // As a supervisor ends it: its database is shut down with it.
            await Signals.SendAsync("CONT", process.Id);
            await Signals.SendAsync("TERM", process.Id);
            using var timeout = new CancellationTokenSource(StopTimeout);
            try
            {
                await process.WaitForExitAsync(timeout.Token);
            }
            catch (OperationCanceledException)
            {
                // A test that failed half-way may leave it waiting for its database: nothing of it is left behind.
                await Signals.SendAsync("KILL", [process.Id, .. PostgresProcesses.On(Cluster)]);
            }
        }

        process?.Dispose();
        Directory.Delete(folder, recursive: true);
    }

    private static int FreePort()
    {
        using var listener = new TcpListener(IPAddress.Loopback, 0);
        listener.Start();
        return ((IPEndPoint)listener.LocalEndpoint).Port;
    }
}
