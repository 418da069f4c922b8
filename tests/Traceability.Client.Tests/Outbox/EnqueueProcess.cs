using System.Diagnostics;
using System.Globalization;
using Traceability.Client.Outbox;

namespace Traceability.Client.Tests.Outbox;

/// <summary>A terminal's program as a process of its own: stores facts and says each that it was told is stored.</summary>
internal static class EnqueueProcess
{
    /// <summary>Entry point: stores facts of several lanes at once until it is killed.</summary>
    /// <param name="args">The outbox's folder.</param>
    public static async Task<int> Main(string[] args)
    {
        await using var outbox = await FactOutbox.OpenAsync(new() { Folder = args[0] });
        var output = TextWriter.Synchronized(new StreamWriter(Console.OpenStandardOutput()) { AutoFlush = true });
        await Task.WhenAll(Enumerable.Range(0, 4).Select(async lane =>
        {
            for (var n = 0; n < 1_000_000; n++)
            {
                var entry = await outbox.EnqueueAsync(Some.Step(FormattableString.Invariant($"{lane}"), note: new string('x', n % 3_000)));
                await output.WriteLineAsync(string.Create(CultureInfo.InvariantCulture, $"{entry.FactId} {entry.Number}"));
            }
        }));
        return 0;
    }

    /// <summary>Starts it, kills it after that time of work, and gives what it said.</summary>
    public static async Task<List<(Guid Id, long Number)>> RunAndKillAsync(string folder, TimeSpan after)
    {
        using var process = Process.Start(new ProcessStartInfo("dotnet", [typeof(EnqueueProcess).Assembly.Location, folder]) { UseShellExecute = false, RedirectStandardOutput = true })!;
        List<(Guid, long)> said = [];
        var first = await process.StandardOutput.ReadLineAsync() ?? throw new InvalidOperationException("The process ended before it stored anything.");
        said.Add(Read(first));
        var reading = Task.Run(async () =>
        {
            while (await process.StandardOutput.ReadLineAsync() is { } line)
            {
                // The last line may be cut by the kill.
                if (line.Split(' ') is [{ Length: 36 }, { Length: > 0 }])
                {
                    said.Add(Read(line));
                }
            }
        });
        await Task.Delay(after);
        process.Kill();
        await process.WaitForExitAsync();
        await reading;
        return said;
    }

    private static (Guid Id, long Number) Read(string line)
    {
        var parts = line.Split(' ');
        return (Guid.Parse(parts[0], CultureInfo.InvariantCulture), long.Parse(parts[1], CultureInfo.InvariantCulture));
    }
}
