using System.Diagnostics;
using System.Globalization;
using System.Net;
using System.Net.Sockets;
using Npgsql;
using Traceability.Service;
using Traceability.Testing;

namespace Traceability.Acceptance.Robustness;

/// <summary>The service as a process of its own, with a private database that is as durable as it gets, so that a test can kill it.</summary>
internal sealed class ServiceProcess : IAsyncDisposable
{
    private static readonly TimeSpan StartTimeout = TimeSpan.FromSeconds(90);
    private static readonly TimeSpan StopTimeout = TimeSpan.FromSeconds(60);

    private readonly string folder = TestFolder.Make("traceability-kill-");
    private Process process = null!;
    private NpgsqlDataSource? database;

    private ServiceProcess()
    {
    }

    /// <summary>The service's address; another after each start.</summary>
    public Uri Address { get; private set; } = null!;

    /// <summary>The administrator's key, made at the first start.</summary>
    public string Key => File.ReadAllText(Path.Combine(folder, "administrator-key")).Trim();

    /// <summary>The service's database, through its private socket.</summary>
    public NpgsqlDataSource Database => database ??= NpgsqlDataSource.Create(new NpgsqlConnectionStringBuilder
    {
        // The second line of the owner's note says where the socket is.
        Host = File.ReadAllLines(Path.Combine(folder, "postgres.owner"))[1],
        Username = "traceability",
        Database = "traceability",
        Pooling = false,
    }.ConnectionString);

    /// <summary>Starts the service in a new data folder and waits until it is ready.</summary>
    public static async Task<ServiceProcess> StartAsync()
    {
        var service = new ServiceProcess();
        await service.RunAsync();
        return service;
    }

    /// <summary>kill -9: the service gets no chance to say goodbye.</summary>
    public async Task KillAsync()
    {
        process.Kill(entireProcessTree: false);
        await process.WaitForExitAsync();
        process.Dispose();
        database?.Dispose();
        database = null;
    }

    /// <summary>Starts the service on its data folder, as a supervisor would.</summary>
    public async Task RunAsync()
    {
        Address = new(string.Create(CultureInfo.InvariantCulture, $"http://127.0.0.1:{FreePort()}"));
        process = Process.Start(new ProcessStartInfo("dotnet",
        [
            typeof(TraceabilityService).Assembly.Location, "--urls", Address.ToString(), $"--Postgres:DataFolder={folder}", "--Logging:LogLevel:Default=Warning",
        ])
        {
            UseShellExecute = false,
            WorkingDirectory = folder,
            RedirectStandardOutput = true,
        })!;

        // Its first lines show the key to a person; they are read so that it is never held up.
        process.OutputDataReceived += static (_, _) => { };
        process.BeginOutputReadLine();
        using var client = new HttpClient { BaseAddress = Address };
        var started = Stopwatch.GetTimestamp();
        while (!await IsReadyAsync(client))
        {
            if (process.HasExited || Stopwatch.GetElapsedTime(started) > StartTimeout)
            {
                throw new InvalidOperationException(process.HasExited ? $"The service ended by itself with {process.ExitCode}." : "The service is not ready in time.");
            }

            await Task.Delay(100);
        }
    }

    /// <inheritdoc />
    public async ValueTask DisposeAsync()
    {
        database?.Dispose();
        if (!process.HasExited)
        {
            // As a supervisor ends it: its database is shut down with it.
            using (var kill = Process.Start("kill", ["-TERM", process.Id.ToString(CultureInfo.InvariantCulture)]))
            {
                await kill.WaitForExitAsync();
            }

            using var timeout = new CancellationTokenSource(StopTimeout);
            await process.WaitForExitAsync(timeout.Token);
        }

        process.Dispose();
        Directory.Delete(folder, recursive: true);
    }

    private static async Task<bool> IsReadyAsync(HttpClient client)
    {
        try
        {
            using var answer = await client.GetAsync("/health/ready");
            return answer.IsSuccessStatusCode;
        }
        catch (HttpRequestException)
        {
            return false;
        }
    }

    private static int FreePort()
    {
        using var listener = new TcpListener(IPAddress.Loopback, 0);
        listener.Start();
        return ((IPEndPoint)listener.LocalEndpoint).Port;
    }
}
