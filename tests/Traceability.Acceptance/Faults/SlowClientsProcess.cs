using System.Diagnostics;
using System.Globalization;

namespace Traceability.Acceptance.Faults;

/// <summary>Slow clients in a process of their own.</summary>
/// <remarks>
/// Ten thousand clients have machines of their own: what theirs takes of this one would be measured as the service's. So it comes last
/// where there is not enough for all.
/// </remarks>
internal sealed class SlowClientsProcess : IAsyncDisposable
{
    private readonly Process process;
    private readonly Task reading;
    private volatile int[] counts = new int[9];

    private SlowClientsProcess(Process process)
    {
        this.process = process;
        reading = ReadAsync();
    }

    /// <summary>Connections that are open now, by kind: head, body, answer, body just fast enough.</summary>
    public IReadOnlyList<int> Open => counts[..4];

    /// <summary>Connections that the server has ended, by kind.</summary>
    public IReadOnlyList<int> Cut => counts[4..8];

    /// <summary>Tries to connect that failed.</summary>
    public int Refused => counts[8];

    /// <summary>Entry point: opens slow connections and says how they are, until nobody writes to it any more.</summary>
    /// <param name="args">The service's address, a key, how many.</param>
    public static async Task<int> Main(string[] args)
    {
        await using var slow = new SlowClients(new(args[0]), args[1], int.Parse(args[2], CultureInfo.InvariantCulture));
        var ended = Task.Run(Console.In.ReadLine);
        while (!ended.IsCompleted)
        {
            await Console.Out.WriteLineAsync(slow.Counts);
            await Task.WhenAny(ended, Task.Delay(100));
        }

        return 0;
    }

    /// <summary>Starts it.</summary>
    public static SlowClientsProcess Start(Uri address, string key, int count)
    {
        string[] arguments = ["-n", "19", "dotnet", typeof(SlowClientsProcess).Assembly.Location, address.ToString(), key, count.ToString(CultureInfo.InvariantCulture)];
        var start = new ProcessStartInfo("nice", arguments) { UseShellExecute = false, RedirectStandardInput = true, RedirectStandardOutput = true };

        // Compiled once, before anything is measured.
        start.Environment["DOTNET_TieredCompilation"] = "0";
        return new(Process.Start(start)!);
    }

    /// <inheritdoc />
    public async ValueTask DisposeAsync()
    {
        process.StandardInput.Close();
        await reading;
        await process.WaitForExitAsync();
        process.Dispose();
    }

    private async Task ReadAsync()
    {
        while (await process.StandardOutput.ReadLineAsync() is { } line)
        {
            counts = [.. line.Split(' ').Select(n => int.Parse(n, CultureInfo.InvariantCulture))];
        }

        // A process that has ended has nothing open, and its counts are no result.
        counts = new int[9];
    }
}
