using System.Globalization;
using Traceability.Acceptance.Robustness;

namespace Traceability.Acceptance.Faults;

/// <summary>Takes facts from a terminal and sees to it that each is recorded.</summary>
internal interface ISender : IAsyncDisposable
{
    /// <summary>Takes a fact upon itself; those of one unit are recorded in the order given. May wait while too many are under way.</summary>
    Task GiveAsync(Sent fact, CancellationToken cancellation);

    /// <summary>Waits until all that was given is recorded.</summary>
    Task FlushAsync(CancellationToken cancellation);
}

/// <summary>Keeps a fact and posts it, again and again with the same id, until it is acknowledged.</summary>
/// <param name="ledger">Where it is noted.</param>
/// <param name="key">The key.</param>
/// <param name="seed">Chooses the instance of each post.</param>
/// <param name="instances">The instances of the service; any of them is asked.</param>
internal sealed class RetryingSender(Ledger ledger, string key, ulong seed, params Uri[] instances) : ISender
{
    /// <summary>How long an answer is waited for before another instance is asked.</summary>
    public static readonly TimeSpan Patience = TimeSpan.FromSeconds(4);

    private static readonly TimeSpan Avoided = TimeSpan.FromSeconds(2);

    private static readonly TimeSpan Pause = TimeSpan.FromMilliseconds(40);

    private readonly HttpClient[] clients = [.. instances.Select(i => Terminal.Client(i, key))];
    private readonly DateTimeOffset[] avoided = new DateTimeOffset[instances.Length];
    private readonly Dice dice = new(seed);

    /// <inheritdoc />
    public async Task GiveAsync(Sent fact, CancellationToken cancellation)
    {
        ledger.Give(fact);
        for (var tries = 1; ; tries++)
        {
            // Now and then to both at once, as a terminal does that has lost patience with the first.
            var first = Choose();
            var replies = clients.Length > 1 && dice.Chance(10)
                ? await Task.WhenAll(TryAsync(first, fact, cancellation), TryAsync(Choose(), fact, cancellation))
                : [await TryAsync(first, fact, cancellation)];
            if (replies.FirstOrDefault(r => r is { IsRecorded: true }) is { } recorded)
            {
                ledger.Acknowledge(fact, recorded.Body.GetProperty("stream").GetString()!, recorded.Body.GetProperty("version").GetInt32(), isRepeat: tries > 1 && recorded.Status == 200);
                return;
            }

            if (replies.FirstOrDefault(r => r is { Status: not 503 }) is { } refused)
            {
                throw new InvalidOperationException($"{fact.Json} was refused: {refused.Status} {refused.Body}");
            }

            await Task.Delay(Pause, cancellation);
        }
    }

    /// <inheritdoc />
    public Task FlushAsync(CancellationToken cancellation) => Task.CompletedTask;

    /// <inheritdoc />
    public ValueTask DisposeAsync()
    {
        foreach (var client in clients)
        {
            client.Dispose();
        }

        return ValueTask.CompletedTask;
    }

    // As a load balancer does: an instance that did not answer is left alone for a while.
    private int Choose()
    {
        var now = TimeProvider.System.GetUtcNow();
        int[] open = [.. Enumerable.Range(0, clients.Length).Where(i => avoided[i] < now)];
        return open.Length == 0 ? dice.Int(0, clients.Length - 1) : dice.Pick(open);
    }

    private async Task<FactReply?> TryAsync(int instance, Sent fact, CancellationToken cancellation)
    {
        using var patience = CancellationTokenSource.CreateLinkedTokenSource(cancellation);
        patience.CancelAfter(Patience);
        var isBroken = true;
        ledger.Begin();
        try
        {
            var reply = await Terminal.PostAsync(clients[instance], fact, patience.Token);
            isBroken = false;
            return reply;
        }
        catch (Exception e) when (e is HttpRequestException or IOException or System.Text.Json.JsonException || (e is OperationCanceledException && !cancellation.IsCancellationRequested))
        {
            avoided[instance] = clients.Length > 1 ? TimeProvider.System.GetUtcNow() + Avoided : default;
            return null;
        }
        finally
        {
            ledger.End(isBroken);
        }
    }
}

/// <summary>Terminals that build lamps without end: a few posts at a time, and now and then a fact that has many units judged again.</summary>
internal sealed class PlantLoad : IAsyncDisposable
{
    private const int SerialsOfOne = 1_000_000;

    // A lot of its own for each stretch of this many lamps bounds how many units a change of the lot has judged again.
    private const int LampsOfALot = 60;

    private readonly CancellationTokenSource stopping = new();
    private readonly CancellationTokenSource abandoning = new();
    private readonly Task[] terminals;
    private readonly ISender[] senders;
    private readonly DateTimeOffset start;

    private PlantLoad(ulong seed, DateTimeOffset start, ISender[] senders)
    {
        this.start = start;
        this.senders = senders;
        terminals = [.. senders.Select((s, i) => Task.Run(() => BuildAsync(s, i, new LampWorks((seed * 1000) + (ulong)i, start), new Dice((seed * 1000) + 500 + (ulong)i))))];
    }

    /// <summary>Starts them; the definitions of <see cref="LampWorks"/> must be there.</summary>
    public static PlantLoad Start(ulong seed, DateTimeOffset start, params ISender[] senders) => new(seed, start, senders);

    /// <summary>Throws what a terminal met, if it has ended.</summary>
    public async Task RequireRunningAsync()
    {
        if (terminals.FirstOrDefault(t => t.IsCompleted) is { } ended)
        {
            await ended;
            throw new InvalidOperationException("A terminal has stopped.");
        }
    }

    /// <summary>No further lamps; returns when everything is recorded.</summary>
    public async Task StopAsync(TimeSpan timeout)
    {
        await stopping.CancelAsync();
        await Task.WhenAll(terminals).WaitAsync(timeout);
        using var patience = new CancellationTokenSource(timeout);
        await Task.WhenAll(senders.Select(s => s.FlushAsync(patience.Token)));
    }

    /// <summary>Gives up what is under way, after a test that has failed; nothing is left of one that was stopped.</summary>
    public async ValueTask DisposeAsync()
    {
        await stopping.CancelAsync();
        await abandoning.CancelAsync();
        await Task.WhenAll(terminals).ContinueWith(static _ => { }, TaskScheduler.Default);
        foreach (var sender in senders)
        {
            await sender.DisposeAsync();
        }

        stopping.Dispose();
        abandoning.Dispose();
    }

    private async Task BuildAsync(ISender sender, int terminal, LampWorks works, Dice dice)
    {
        for (var lamp = 0; !stopping.IsCancellationRequested; lamp++)
        {
            var lot = string.Create(CultureInfo.InvariantCulture, $"K{terminal}-{lamp / LampsOfALot}");
            if (lamp % LampsOfALot == 0)
            {
                await sender.GiveAsync(works.Define("lot-received", -700, $$""" "lot":{"item":"ADH","lot":"{{lot}}"},"isReleased":true,"quantity":{"value":500,"unit":"g"},"expiresAt":"{{works.Time(100_000)}}" """), abandoning.Token);
            }

            foreach (var fact in works.SimpleLamp((SerialsOfOne * (terminal + 1)) + lamp, lamp % 500))
            {
                // The first container holds for half of them; the others have a gap and a finding.
                await sender.GiveAsync(dice.Chance(50) ? fact : fact with { Json = fact.Json.Replace("\"L1\"],\"container\":\"T1\"", $"\"{lot}\"]", StringComparison.Ordinal) }, abandoning.Token);
            }

            if (dice.Chance(2))
            {
                await sender.GiveAsync(works.Define("lot-expiry-set", 400 + dice.Int(0, 200), $$""" "lot":{"item":"ADH","lot":"{{lot}}"},"expiresAt":"{{start.AddMinutes(dice.Int(-100, 900)):yyyy-MM-dd'T'HH:mm:sszzz}}","reason":"Test" """), abandoning.Token);
            }
        }
    }
}
