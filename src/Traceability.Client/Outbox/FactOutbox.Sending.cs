using Traceability.Client.Outbox.Storage;

namespace Traceability.Client.Outbox;

/// <summary>Facts that go into one request.</summary>
/// <param name="Slots">Which.</param>
/// <param name="Rows">Their rows, in the same order.</param>
/// <param name="Said">What to say of the clock of all of them.</param>
/// <param name="Proof">Why that can be said.</param>
internal sealed record OutboxBatch(IReadOnlyList<Slot> Slots, IReadOnlyList<StoredRow> Rows, RequestClock Said, ClockProof Proof);

/// <summary>How long a fact of a batch is kept back that was not settled.</summary>
/// <param name="Length">How long.</param>
/// <param name="IsStumble">Whether the service answers for others and can't for this one.</param>
internal readonly record struct Pause(TimeSpan Length, bool IsStumble);

/// <content>What the sender needs.</content>
public sealed partial class FactOutbox
{
    private OutboxTrouble? trouble;
    private DateTimeOffset? lastSentAt;
    private int senders;

    /// <summary>Gives the outbox at one look.</summary>
    public OutboxView View()
    {
        var now = clock.Now();
        lock (gate)
        {
            return new()
            {
                Waiting = index.Waiting,
                Refused = index.Refused,
                Sent = index.Sent,
                Decided = index.Decided,
                OldestWaiting = index.OldestWaiting is { } oldest ? Age(oldest.Head.Stamp, now) : null,
                Fill = Math.Max((double)(index.Waiting + index.Refused) / options.EntriesMax, (double)index.OpenBytes / options.BytesMax),
                LastSentAt = lastSentAt,
                Trouble = trouble,
                IsSending = senders > 0,
                ClockJumps = clock.Jumps,
                WaitingOnUnprovenClock = index.Waiting == 0 ? 0 : index.All.Count(s => s.State == OutboxState.Waiting && s.Head.Run != now.Run && clock.Say(s, now).Proof is ClockProof.Unproven or ClockProof.Impossible),
                Damage = Damage,
            };
        }
    }

    /// <summary>One sender at a time: else facts of one lane could overtake each other.</summary>
    internal void BeginSending()
    {
        if (Interlocked.CompareExchange(ref senders, 1, 0) != 0)
        {
            throw new InvalidOperationException("Another sender runs on this outbox.");
        }
    }

    internal void EndSending() => Volatile.Write(ref senders, 0);

    internal void SetTrouble(OutboxTrouble? now)
    {
        lock (gate)
        {
            trouble = now;
        }
    }

    /// <summary>Waits until something comes in, or the time is over.</summary>
    internal async Task WaitAsync(TimeSpan most, CancellationToken cancellation)
    {
        using var over = CancellationTokenSource.CreateLinkedTokenSource(cancellation);
        var come = arrived.WaitAsync(over.Token);
        await Task.WhenAny(come, Task.Delay(most, time, over.Token)).ConfigureAwait(false);
        await over.CancelAsync().ConfigureAwait(false);
        try
        {
            await come.ConfigureAwait(false);
        }
        catch (OperationCanceledException) when (!cancellation.IsCancellationRequested)
        {
            // Nothing came in.
        }
    }

    /// <summary>How long until something may be sent: zero if something may be now; null if nothing waits for its time.</summary>
    internal TimeSpan? UntilDue()
    {
        var steady = clock.Steady;
        lock (gate)
        {
            // What has become due since the last look must not be slept over.
            return index.Sendable(steady).Any() ? TimeSpan.Zero : index.NextDue(steady) - steady;
        }
    }

    /// <summary>What can be sent now in one request; null if nothing can.</summary>
    internal Task<OutboxBatch?> NextBatchAsync(int most, int bytesMost) => writer.DoAsync<OutboxBatch?>(file =>
    {
        var now = clock.Now();
        List<Slot> chosen = [];
        (RequestClock Said, ClockProof Proof)? common = null;
        lock (gate)
        {
            var bytes = 0;
            foreach (var slot in index.Sendable(clock.Steady))
            {
                var said = clock.Say(slot, now);
                if (common is { } c && c != said)
                {
                    // Of another clock: in a request of its own, after this one.
                    continue;
                }

                if (chosen.Count == most || (chosen.Count > 0 && bytes + slot.Bytes > bytesMost))
                {
                    break;
                }

                common = said;
                bytes += slot.Bytes;
                chosen.Add(slot);
            }
        }

        return (chosen.Count == 0 ? null : new(chosen, [.. chosen.Select(s => file.Find(s.Head.Number)!)], common!.Value.Said, common.Value.Proof), null);
    });

    /// <summary>Writes down what became of facts that were sent.</summary>
    /// <param name="batch">What was sent.</param>
    /// <param name="outcomes">What became of each.</param>
    /// <param name="pauses">For how long each is kept back, if it was not settled.</param>
    internal Task<IReadOnlyList<OutboxEntry>> SettleAsync(OutboxBatch batch, IReadOnlyList<FactOutcome> outcomes, IReadOnlyList<Pause> pauses) => writer.DoAsync<IReadOnlyList<OutboxEntry>>(file =>
    {
        var at = time.GetUtcNow();
        List<(Slot Slot, OutboxState State)> changes = [];
        List<OutboxEntry> settled = [];
        for (var i = 0; i < outcomes.Count; i++)
        {
            var (state, settlement) = outcomes[i] switch
            {
                FactOutcome.Recorded r => (OutboxState.Sent, new Settlement { At = at, Receipt = r.Receipt, Clock = batch.Proof }),
                FactOutcome.Refused r => (OutboxState.Refused, new Settlement { At = at, Problem = r.Problem, Clock = batch.Proof }),
                _ => (OutboxState.Waiting, null),
            };
            if (settlement is null)
            {
                continue;
            }

            var row = batch.Rows[i] with { State = state, Settled = settlement.Write() };
            file.Update(row);
            changes.Add((batch.Slots[i], state));
            settled.Add(row.ToEntry());
        }

        WriteClockNote(file);
        return (settled, () =>
        {
            var steady = clock.Steady;
            lock (gate)
            {
                changes.ForEach(c => index.SetState(c.Slot, c.State, at));
                for (var i = 0; i < pauses.Count; i++)
                {
                    batch.Slots[i].Stumbles += pauses[i].IsStumble ? 1 : 0;
                    batch.Slots[i].NotBefore = steady + pauses[i].Length;
                }

                lastSentAt = changes.Exists(c => c.State == OutboxState.Sent) ? at : lastSentAt;
            }
        });
    });

    /// <summary>Takes what the answers so far say of the clock.</summary>
    internal void LearnClock(ClockOffset? offset) => clock.Learn(offset);

    /// <summary>Whether something waits whose clock can be told only once this run's is measured.</summary>
    internal bool NeedsServerClock()
    {
        if (clock.IsMeasured)
        {
            return false;
        }

        var run = clock.Now().Run;
        lock (gate)
        {
            return index.Sendable(clock.Steady).Any(s => s.Head.Run != run);
        }
    }

    /// <summary>Removes what was settled long enough ago.</summary>
    internal Task<int> PruneAsync() => writer.DoAsync<int>(file =>
    {
        List<Slot> old;
        lock (gate)
        {
            var limit = time.GetUtcNow() - options.KeepSettled;
            var settled = index.All.Where(s => !s.IsOpen).ToList();
            var tooMany = settled.Count - options.SettledMax;

            // The newest entry stays: it shows how far the outbox had got.
            old = [.. settled.Where((s, i) => (i < tooMany || s.SettledAt < limit) && s.Head.Number != index.Last)];
        }

        file.Delete(old.Select(s => s.Head.Number));
        WriteClockNote(file);
        return (old.Count, () =>
        {
            lock (gate)
            {
                old.ForEach(index.Remove);
            }
        });
    });

    // By the steady clock where it has run on: the other one may have been set.
    private static TimeSpan Age(ClockStamp then, ClockStamp now)
    {
        var age = string.Equals(then.Run, now.Run, StringComparison.Ordinal) ? now.Uptime - then.Uptime : now.Wall - then.Wall;
        return age > TimeSpan.Zero ? age : TimeSpan.Zero;
    }

    private void WriteClockNote(OutboxFile file)
    {
        if (clock.TakeNote() is { } note)
        {
            file.SetNote(OutboxNotes.Clock, OutboxNotes.Write(note));
        }
    }
}
