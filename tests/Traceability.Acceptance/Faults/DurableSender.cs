using Traceability.Acceptance.Robustness;
using Traceability.Client;
using Traceability.Client.Outbox;

namespace Traceability.Acceptance.Faults;

/// <summary>A terminal with the client library's outbox: a fact is on its disk before it is sent, and stays until it is acknowledged.</summary>
internal sealed class DurableSender : ISender
{
    // The terminal goes on building while the service is gone, but not without end.
    private const int WaitingMax = 60;
    private static readonly TimeSpan Look = TimeSpan.FromMilliseconds(20);

    private readonly Ledger ledger;
    private readonly string folder = Directory.CreateTempSubdirectory("traceability-outbox-").FullName;
    private readonly CancellationTokenSource stopping = new();
    private readonly TraceabilityClient client;
    private FactOutbox outbox = null!;
    private Task sending = Task.CompletedTask;
    private long taken;
    private string? refused;

    private DurableSender(Ledger ledger, Uri address, string key)
    {
        this.ledger = ledger;
        client = new(new() { Address = address, Key = key, TriesMax = 1, TryTimeout = TimeSpan.FromSeconds(10), CircuitBreak = TimeSpan.FromMilliseconds(500) });
    }

    /// <summary>Opens an outbox in a folder of its own and sends from it.</summary>
    public static async Task<DurableSender> StartAsync(Ledger ledger, Uri address, string key)
    {
        var sender = new DurableSender(ledger, address, key);
        sender.outbox = await FactOutbox.OpenAsync(new() { Folder = sender.folder, SettledMax = int.MaxValue });
        sender.sending = new OutboxSender(sender.outbox, sender.client, new() { FirstWait = TimeSpan.FromMilliseconds(100), WaitMax = TimeSpan.FromSeconds(1), BatchMax = 40, OnSettled = sender.Settle }).RunAsync(sender.stopping.Token);
        return sender;
    }

    /// <inheritdoc />
    public async Task GiveAsync(Sent fact, CancellationToken cancellation)
    {
        ledger.Give(fact);
        await outbox.EnqueueJsonAsync(fact.Json);
        taken++;
        await UntilAsync(v => v.Waiting < WaitingMax, cancellation);
    }

    /// <inheritdoc />
    public async Task FlushAsync(CancellationToken cancellation)
    {
        await UntilAsync(v => v.Waiting == 0, cancellation);
        var view = outbox.View();
        Assert.Equal((taken, 0), (view.Sent, view.Refused));
    }

    /// <inheritdoc />
    public async ValueTask DisposeAsync()
    {
        await stopping.CancelAsync();
        await sending;
        await outbox.DisposeAsync();
        client.Dispose();
        stopping.Dispose();
        Directory.Delete(folder, recursive: true);
    }

    private async Task UntilAsync(Func<OutboxView, bool> holds, CancellationToken cancellation)
    {
        while (!holds(outbox.View()))
        {
            if (sending.IsCompleted)
            {
                await sending;
            }

            Assert.True(refused is null, refused);
            await Task.Delay(Look, cancellation);
        }
    }

    private void Settle(OutboxEntry entry)
    {
        if (entry.Receipt is { } receipt)
        {
            ledger.Acknowledge(new(entry.FactId, entry.Type, entry.Fact, TimeSpan.Zero), receipt.Stream, receipt.Version, receipt.IsRepeat);
        }
        else
        {
            refused = $"{entry.Fact} was refused: {entry.Problem?.Status} {entry.Problem?.Detail}";
        }
    }
}
