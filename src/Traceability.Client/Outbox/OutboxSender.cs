using System.Security.Cryptography;
using Traceability.Contracts;

namespace Traceability.Client.Outbox;

/// <summary>How an <see cref="OutboxSender"/> sends.</summary>
public sealed record OutboxSenderOptions
{
    /// <summary>Gets the most facts of one request. Default 200; 1 to 5,000.</summary>
    public int BatchMax { get; init; } = 200;

    /// <summary>Gets the most bytes of one request. Default 4 MiB.</summary>
    public int BatchBytesMax { get; init; } = 4 * 1024 * 1024;

    /// <summary>Gets the wait after a first failure; it doubles with each further one, with jitter. Default 500 ms.</summary>
    public TimeSpan FirstWait { get; init; } = TimeSpan.FromMilliseconds(500);

    /// <summary>Gets the longest wait between two tries, a longer Retry-After aside. Default 30 s.</summary>
    public TimeSpan WaitMax { get; init; } = TimeSpan.FromSeconds(30);

    /// <summary>
    /// Gets for how long a fact is tried again that names something not known yet, a unit that another terminal has opened and not
    /// yet reported, say. Only facts about the same unit wait for it. Default zero: it is refused at once, and a person decides.
    /// </summary>
    public TimeSpan UnknownPatience { get; init; } = TimeSpan.Zero;

    /// <summary>Gets the time between two tries of such a fact. Default 2 s.</summary>
    public TimeSpan UnknownPause { get; init; } = TimeSpan.FromSeconds(2);

    /// <summary>Gets what is called for each fact that was acknowledged or refused, in order of each lane; null: nobody.</summary>
    public Action<OutboxEntry>? OnSettled { get; init; }
}

/// <summary>What one run of sending came to.</summary>
/// <param name="Sent">Facts acknowledged.</param>
/// <param name="Refused">Facts refused.</param>
/// <param name="Waiting">Facts that still wait.</param>
/// <param name="Trouble">What kept them from being sent; null if nothing did.</param>
public sealed record SendReport(int Sent, int Refused, int Waiting, OutboxTrouble? Trouble);

/// <summary>
/// Sends what waits in an outbox: facts of one unit one after another, each only when the one before is acknowledged or
/// refused; definitions before what came after them; facts of different units together. Ids stay, so that sending twice does no harm.
/// </summary>
/// <param name="outbox">The outbox.</param>
/// <param name="client">Speaks with the service; give it few tries of its own, since this one tries again for ever.</param>
/// <param name="options">How; null: the defaults.</param>
/// <remarks>One sender at a time on an outbox.</remarks>
public sealed class OutboxSender(FactOutbox outbox, TraceabilityClient client, OutboxSenderOptions? options = null)
{
    private static readonly TimeSpan PruneEvery = TimeSpan.FromMinutes(5);

    // So often in a row the whole request was answered with an error: then facts go one by one, so that one can't hold up the rest.
    private const int AloneAfter = 3;
    private const int AloneFor = 50;

    private readonly OutboxSenderOptions options = options ?? new();
    private readonly TimeProvider time = outbox.Time;
    private readonly Dictionary<Guid, long> unknownSince = [];
    private int failures;
    private int alone;
    private bool isBlockedByOne;

    /// <summary>Sends whenever something waits, until it is cancelled. An exception of <see cref="OutboxSenderOptions.OnSettled"/> ends it.</summary>
    public async Task RunAsync(CancellationToken cancellation)
    {
        outbox.BeginSending();
        try
        {
            var pruned = time.GetTimestamp();
            await PruneAsync().ConfigureAwait(false);
            while (true)
            {
                cancellation.ThrowIfCancellationRequested();
                var step = await StepAsync(cancellation).ConfigureAwait(false);
                if (step.Wait is { } wait)
                {
                    await Task.Delay(wait, time, cancellation).ConfigureAwait(false);
                }
                else if (step.IsIdle)
                {
                    await outbox.WaitAsync(Shorter(outbox.UntilDue(), TimeSpan.FromSeconds(30)), cancellation).ConfigureAwait(false);
                }

                if (time.GetElapsedTime(pruned) > PruneEvery)
                {
                    pruned = time.GetTimestamp();
                    await PruneAsync().ConfigureAwait(false);
                }
            }
        }
        catch (OperationCanceledException) when (cancellation.IsCancellationRequested)
        {
            // Told to stop.
        }
        finally
        {
            outbox.EndSending();
        }
    }

    /// <summary>Sends what waits until nothing does, or until a request fails.</summary>
    public async Task<SendReport> SendPendingAsync(CancellationToken cancellation = default)
    {
        outbox.BeginSending();
        try
        {
            var (sent, refused) = (0, 0);
            while (true)
            {
                var step = await StepAsync(cancellation).ConfigureAwait(false);
                sent += step.Sent;
                refused += step.Refused;
                if (step.Wait is not null || step.IsIdle)
                {
                    var view = outbox.View();
                    return new(sent, refused, view.Waiting, view.Trouble);
                }
            }
        }
        finally
        {
            outbox.EndSending();
        }
    }

    private static TimeSpan Shorter(TimeSpan? a, TimeSpan b) => a is { } x && x < b ? (x > TimeSpan.Zero ? x : TimeSpan.FromMilliseconds(1)) : b;

    // A disk that does not take it now may take it later: sending goes on.
    private async Task PruneAsync()
    {
        try
        {
            await outbox.PruneAsync().ConfigureAwait(false);
        }
        catch (OutboxStorageException e)
        {
            Failed(e.Message, isCircuitOpen: false, null, null);
        }
    }

    private async Task<Step> StepAsync(CancellationToken cancellation)
    {
        try
        {
            if (outbox.NeedsServerClock())
            {
                outbox.LearnClock(await client.MeasureClockAsync(cancellation).ConfigureAwait(false));
            }

            var batch = await outbox.NextBatchAsync(alone > 0 ? 1 : options.BatchMax, options.BatchBytesMax).ConfigureAwait(false);
            if (batch is null)
            {
                return new(0, 0, IsIdle: true, null);
            }

            var outcomes = await SendAsync(batch, cancellation).ConfigureAwait(false);
            outbox.LearnClock(client.ClockOffset);
            return await SettleAsync(batch, outcomes).ConfigureAwait(false);
        }
        catch (TraceabilityUnreachableException e)
        {
            return Failed(e.Message, e.IsCircuitOpen, e.RetryAfter, null);
        }
        catch (OutboxStorageException e)
        {
            return Failed(e.Message, isCircuitOpen: false, null, null);
        }
        catch (TraceabilityProblemException e)
        {
            return Failed(e.Message, isCircuitOpen: false, e.RetryAfter, e.Problem);
        }
    }

    private async Task<IReadOnlyList<FactOutcome>> SendAsync(OutboxBatch batch, CancellationToken cancellation)
    {
        if (batch.Rows.Count == 1 && alone > 0)
        {
            alone--;
            var outcome = await client.RecordJsonAsync(batch.Rows[0].Fact(), batch.Said, cancellation).ConfigureAwait(false);
            isBlockedByOne = outcome is FactOutcome.Later { Problem.Status: 500 };
            return outcome is FactOutcome.Later { Problem: { Status: not 500 } problem } ? throw new TraceabilityProblemException(problem) : [outcome];
        }

        return await client.RecordJsonBatchAsync([.. batch.Rows.Select(r => r.Fact())], batch.Said, cancellation).ConfigureAwait(false);
    }

    private async Task<Step> SettleAsync(OutboxBatch batch, IReadOnlyList<FactOutcome> outcomes)
    {
        List<FactOutcome> judged = [];
        List<Pause> pauses = [];
        Problem? passing = null;
        Problem? keptBack = null;
        for (var i = 0; i < outcomes.Count; i++)
        {
            var (outcome, pause) = (outcomes[i], default(Pause));
            if (outcome is FactOutcome.Refused { IsUnknown: true } unknown && IsStillPatient(batch.Slots[i]))
            {
                (outcome, pause) = (new FactOutcome.Later(unknown.Problem), new(options.UnknownPause, false));
                keptBack = unknown.Problem;
            }
            else if (outcome is FactOutcome.Later later && isBlockedByOne)
            {
                pause = new(Backoff(batch.Slots[i].Stumbles + 1), true);
                keptBack = later.Problem;
            }
            else if (outcome is FactOutcome.Later l)
            {
                passing = l.Problem;
            }

            judged.Add(outcome);
            pauses.Add(pause);
        }

        var settled = await outbox.SettleAsync(batch, judged, pauses).ConfigureAwait(false);
        foreach (var entry in settled)
        {
            unknownSince.Remove(entry.FactId);
            options.OnSettled?.Invoke(entry);
        }

        var (sent, refused) = (settled.Count(e => e.State == OutboxState.Sent), settled.Count(e => e.State == OutboxState.Refused));
        if (passing is not null)
        {
            return Failed(passing.Detail ?? passing.Title, isCircuitOpen: false, null, passing) with { Sent = sent, Refused = refused };
        }

        failures = 0;
        isBlockedByOne = false;
        outbox.SetTrouble(keptBack is null ? null : new(time.GetUtcNow(), keptBack.Detail ?? keptBack.Title, false, time.GetUtcNow() + pauses.Max(p => p.Length), 1, keptBack));
        return new(sent, refused, IsIdle: false, null);
    }

    // Only facts about a unit: what is refused of the ground would hold up everything.
    private bool IsStillPatient(Slot slot)
    {
        if (options.UnknownPatience <= TimeSpan.Zero || slot.Head.IsGround)
        {
            return false;
        }

        if (!unknownSince.TryGetValue(slot.Head.FactId, out var since))
        {
            unknownSince[slot.Head.FactId] = since = time.GetTimestamp();
        }

        return time.GetElapsedTime(since) < options.UnknownPatience;
    }

    private Step Failed(string message, bool isCircuitOpen, TimeSpan? retryAfter, Problem? problem)
    {
        failures++;

        // A request that is refused as a whole though the service answers: is it one of its facts?
        if (failures >= AloneAfter && problem is { Status: 500 or (>= 400 and < 500 and not (401 or 403 or 408 or 429)) })
        {
            alone = AloneFor;
        }

        var wait = Longer(Backoff(failures), retryAfter ?? TimeSpan.Zero);
        outbox.SetTrouble(new(time.GetUtcNow(), message, isCircuitOpen || client.IsCircuitOpen, time.GetUtcNow() + wait, failures, problem));
        return new(0, 0, IsIdle: false, wait);
    }

    private TimeSpan Backoff(int times)
    {
        var most = Math.Min(options.WaitMax.TotalMilliseconds, options.FirstWait.TotalMilliseconds * Math.Pow(2, Math.Min(times - 1, 20)));

        // Between half of it and all of it, so that terminals that lost the service together don't come back together.
        return TimeSpan.FromMilliseconds((most / 2) + (most / 2 * RandomNumberGenerator.GetInt32(1_000) / 1_000));
    }

    private static TimeSpan Longer(TimeSpan a, TimeSpan b) => a > b ? a : b;

    private sealed record Step(int Sent, int Refused, bool IsIdle, TimeSpan? Wait);
}
