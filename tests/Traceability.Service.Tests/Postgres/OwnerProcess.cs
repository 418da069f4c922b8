using System.Diagnostics;
using System.Globalization;
using Traceability.Postgres;
using Xunit;

namespace Traceability.Service.Tests.Postgres;

/// <summary>A second process that owns a private server, so that a test can kill the owner, not only the server.</summary>
internal sealed class OwnerProcess : IAsyncDisposable
{
    private readonly Process process;

    private OwnerProcess(Process process, int serverId, string connectionString)
    {
        this.process = process;
        ServerId = serverId;
        ConnectionString = connectionString;
    }

    internal int ServerId { get; }

    internal string ConnectionString { get; }

    /// <summary>Entry point of the second process: owns the server in the folder until standard input ends.</summary>
    /// <param name="args">Folder and durability.</param>
    public static async Task<int> Main(string[] args)
    {
        await using var server = await EmbeddedPostgres.StartAsync(new EmbeddedPostgresOptions
        {
            DataFolder = args[0],
            Durability = Enum.Parse<PostgresDurability>(args[1]),
        });
        await Console.Out.WriteLineAsync(server.ProcessId.ToString(CultureInfo.InvariantCulture));
        await Console.Out.WriteLineAsync(server.ConnectionString);
        await Console.In.ReadToEndAsync();
        return 0;
    }

    internal static async Task<OwnerProcess> StartAsync(string folder, PostgresDurability durability)
    {
        var assembly = typeof(OwnerProcess).Assembly.Location;
        var started = Process.Start(new ProcessStartInfo("dotnet", ["exec", assembly, folder, durability.ToString()])
        {
            UseShellExecute = false,
            RedirectStandardInput = true,
            RedirectStandardOutput = true,
        })!;
        var id = await started.StandardOutput.ReadLineAsync();
        var connection = await started.StandardOutput.ReadLineAsync();
        Assert.NotNull(connection);
        return new OwnerProcess(started, int.Parse(id!, CultureInfo.InvariantCulture), connection);
    }

    /// <summary>kill -9: the process gets no chance to say goodbye.</summary>
    internal async Task KillAsync()
    {
        process.Kill(entireProcessTree: false);
        await process.WaitForExitAsync();
    }

    /// <summary>kill -9 also for the shell that ends the server with its owner, so that the server is left alone.</summary>
    internal async Task KillWithKeeperAsync()
    {
        // The owner is stopped first: else it would see its keeper die and start the server again.
        await SignalAsync("-STOP", process.Id);
        var keeper = ParentOf(ServerId);
        foreach (var watcher in ChildrenOf(keeper).Where(id => id != ServerId))
        {
            await SignalAsync("-KILL", watcher);
        }

        await SignalAsync("-KILL", keeper);
        await KillAsync();
    }

    public async ValueTask DisposeAsync()
    {
        if (!process.HasExited)
        {
            process.StandardInput.Close();
            await process.WaitForExitAsync();
        }

        process.Dispose();
    }

    private static async Task SignalAsync(string signal, int processId)
    {
        using var kill = Process.Start("kill", [signal, processId.ToString(CultureInfo.InvariantCulture)]);
        await kill.WaitForExitAsync();
        Assert.Equal(0, kill.ExitCode);
    }

    private static int ParentOf(int processId) => int.Parse(
        File.ReadLines($"/proc/{processId}/status").First(l => l.StartsWith("PPid:", StringComparison.Ordinal))[5..],
        CultureInfo.InvariantCulture);

    private static List<int> ChildrenOf(int processId) =>
        [.. File.ReadAllText($"/proc/{processId}/task/{processId}/children")
            .Split(' ', StringSplitOptions.RemoveEmptyEntries)
            .Select(id => int.Parse(id, CultureInfo.InvariantCulture))];
}
