using Traceability.Acceptance.Robustness;
using Traceability.Client.Outbox;
using Traceability.Client.Tests.Outbox;
using Traceability.Testing;
using Traceability.Testing.Faults;

namespace Traceability.Client.Tests.Service;

/// <summary>A terminal with an outbox, on its way to a real service.</summary>
internal sealed class TerminalWithOutbox : IAsyncDisposable
{
    private readonly OutboxFolder folder = new();
    private readonly TraceabilityClient client;
    private readonly CancellationTokenSource stopping = new();
    private Task running = Task.CompletedTask;

    private TerminalWithOutbox(TraceabilityClient client, TestClock clock)
    {
        this.client = client;
        Clock = clock;
    }

    public TestClock Clock { get; }

    public FactOutbox Outbox { get; private set; } = null!;

    public TraceabilityClient Client => client;

    public static async Task<TerminalWithOutbox> OpenAsync(Uri address, string key, TimeSpan clockError = default)
    {
        var clock = new TestClock { Ahead = clockError };
        var options = new TraceabilityClientOptions
        {
            Address = address,
            Key = key,
            TriesMax = 1,
            TryTimeout = TimeSpan.FromSeconds(1),
            CircuitTriesMin = 20,
            CircuitBreak = TimeSpan.FromMilliseconds(500),
        };
        var terminal = new TerminalWithOutbox(new(options, clock), clock);
        terminal.Outbox = await terminal.folder.OpenAsync(clock);
        return terminal;
    }

    /// <summary>Starts to send, and goes on.</summary>
    public void Run(int batchMax, TimeSpan patience = default)
    {
        var options = new OutboxSenderOptions { BatchMax = batchMax, FirstWait = TimeSpan.FromMilliseconds(5), WaitMax = TimeSpan.FromMilliseconds(50), UnknownPatience = patience, UnknownPause = TimeSpan.FromMilliseconds(100) };
        running = new OutboxSender(Outbox, client, options).RunAsync(stopping.Token);
    }

    /// <summary>Waits until nothing waits any more.</summary>
    public async Task DrainAsync(int seconds = 120)
    {
        for (var i = 0; Outbox.View().Waiting > 0; i++)
        {
            Assert.True(i < seconds * 50, $"{Outbox.View()}");
            Assert.False(running.IsCompleted, running.Exception?.ToString());
            await Task.Delay(20);
        }
    }

    public async ValueTask DisposeAsync()
    {
        await stopping.CancelAsync();
        await running;
        await Outbox.DisposeAsync();
        client.Dispose();
        stopping.Dispose();
        folder.Dispose();
    }
}

/// <summary>What a service has, for tests.</summary>
internal static class Recorded
{
    public static string Key(this ServiceHost host) => host.AdministratorKey;

    /// <summary>The ids of all facts, by stream and version.</summary>
    public static async Task<List<(string Stream, Guid Id)>> FactsAsync(ServiceHost host)
    {
        await using var command = host.Database.CreateCommand("select stream_id, id from events.mt_events order by stream_id, version");
        await using var reader = await command.ExecuteReaderAsync();
        List<(string, Guid)> facts = [];
        while (await reader.ReadAsync())
        {
            facts.Add((reader.GetString(0), reader.GetGuid(1)));
        }

        return facts;
    }

    /// <summary>A fault drawn at random, of those that leave the client in the dark.</summary>
    public static Fault Any(Dice dice) => new(
        dice.Pick(FaultKind.CutRequest, FaultKind.CutResponse, FaultKind.CutResponse, FaultKind.Reset, FaultKind.Duplicate, FaultKind.Slow), dice.Int(0, 99) / 100.0, dice.Int(20_000, 200_000));
}
