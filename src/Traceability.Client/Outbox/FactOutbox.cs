using System.Text;
using System.Text.Json;
using Microsoft.Data.Sqlite;
using Traceability.Client.Outbox.Storage;
using Traceability.Contracts;
using Traceability.Contracts.Facts;

namespace Traceability.Client.Outbox;

/// <summary>
/// Keeps facts on this machine's disk until the service has acknowledged them: through broken networks, restarts and power loss.
/// </summary>
/// <remarks>
/// <para>When <see cref="EnqueueAsync(FactMessage)"/> has returned, the fact is on the disk. Its id is chosen there and stays. An
/// <see cref="OutboxSender"/> sends what waits.</para>
/// <para>Nothing disappears by itself: what the service refuses stays until a person sends it again, amends it or drops it
/// with a reason. A damaged file is put aside, what can be saved is taken over, and <see cref="Damage"/> tells.</para>
/// <para>Members may be used from any thread. One process at a time has an outbox open.</para>
/// </remarks>
public sealed partial class FactOutbox : IAsyncDisposable
{
    private const int FactBytesMax = 256 * 1024;

    private readonly Lock gate = new();
    private readonly OutboxOptions options;
    private readonly TimeProvider time;
    private readonly OpenedOutbox opened;
    private readonly OutboxWriter writer;
    private readonly OutboxIndex index;
    private readonly ClockWatch clock;
    private readonly SemaphoreSlim arrived = new(0, 1);

    // Of the transaction that is being written; touched by the writer's thread only.
    private readonly Dictionary<Guid, (Slot Slot, byte[] Whole)> underWay = [];
    private long underWayBytes;
    private long last;
    private bool isClosed;

    private FactOutbox(OutboxOptions options, TimeProvider time, OpenedOutbox opened)
    {
        this.options = options;
        this.time = time;
        this.opened = opened;
        (index, clock) = (opened.Index, opened.Clock!);
        Damage = opened.Damage;
        Durability = opened.File!.Durability();
        last = Math.Max(index.Last, opened.Mark!.Read()?.Last ?? 0);
        writer = new(opened.File, Ended);
    }

    /// <summary>Gets what was found wrong with the file, now or at an earlier opening; null if nothing was, or once a person has acknowledged it.</summary>
    public OutboxDamage? Damage { get; private set; }

    /// <summary>Gets the library's word on how durable a commit is: "wal" and 2 (full), or the outbox does not open.</summary>
    public (string Journal, long Synchronous) Durability { get; }

    internal TimeProvider Time => time;

    /// <summary>Opens the outbox in its folder, or makes one.</summary>
    /// <param name="options">Where, and its limits.</param>
    /// <param name="time">The terminal's clock; null: the system's.</param>
    /// <param name="uptime">The terminal's steady clock; null: the system's.</param>
    /// <exception cref="OutboxInUseException">Another process has it open.</exception>
    /// <exception cref="OutboxStorageException">The disk can't be read or written.</exception>
    public static Task<FactOutbox> OpenAsync(OutboxOptions options, TimeProvider? time = null, ITerminalUptime? uptime = null)
    {
        ArgumentNullException.ThrowIfNull(options);
        var wall = time ?? TimeProvider.System;
        return Task.Run(() => Open(options, wall, uptime ?? new SystemUptime(wall)));
    }

    /// <summary>Stores a fact. When this has returned, it is on the disk.</summary>
    /// <param name="fact">The fact; without an id it is given one, which stays.</param>
    /// <returns>The entry. A fact that is there already, with the same id and content, is given as it stands.</returns>
    /// <exception cref="OutboxFullException">The outbox is full.</exception>
    /// <exception cref="OutboxConflictException">There is a fact with this id and other content.</exception>
    /// <exception cref="OutboxStorageException">The disk did not take it.</exception>
    public Task<OutboxEntry> EnqueueAsync(FactMessage fact)
    {
        ArgumentNullException.ThrowIfNull(fact);
        return EnqueueJsonAsync(JsonSerializer.Serialize(fact, WireJson.Options));
    }

    /// <summary>Stores a fact that is at hand as JSON, as it is; the service judges its members.</summary>
    /// <param name="json">One JSON object with a type; without a factId it is given one, which stays.</param>
    /// <returns>As <see cref="EnqueueAsync(FactMessage)"/>.</returns>
    /// <exception cref="FormatException">The text is no such object, or too long.</exception>
    public Task<OutboxEntry> EnqueueJsonAsync(string json) => EnqueueAsync(FactText.Read(json, FactBytesMax), null);

    /// <summary>Gives the entry of a fact; null if there is none (it was settled long ago, or never here).</summary>
    public Task<OutboxEntry?> FindAsync(Guid factId) => writer.DoAsync<OutboxEntry?>(file =>
    {
        lock (gate)
        {
            return (index.Find(factId) is { } slot ? file.Find(slot.Head.Number)?.ToEntry() : null, null);
        }
    });

    /// <summary>Lists entries of one state, oldest first.</summary>
    /// <param name="state">Which.</param>
    /// <param name="limit">The most of the list.</param>
    /// <param name="after">Only those with a higher number: the last one's of the list before.</param>
    public Task<IReadOnlyList<OutboxEntry>> ListAsync(OutboxState state, int limit = 100, long after = 0) => writer.DoAsync<IReadOnlyList<OutboxEntry>>(file =>
    {
        long[] numbers;
        lock (gate)
        {
            numbers = [.. index.All.Where(s => s.State == state && s.Head.Number > after).Take(limit).Select(s => s.Head.Number)];
        }

        return ([.. numbers.Select(n => file.Find(n)!.ToEntry())], null);
    });

    /// <summary>Lets a refused fact be sent again as it is, under its id: for what lacked something that is there now.</summary>
    /// <param name="factId">The refused fact.</param>
    /// <param name="by">Who decides.</param>
    public Task<OutboxEntry> SendAgainAsync(Guid factId, string by) => DecideAsync(factId, OutboxState.Waiting, by, null);

    /// <summary>Gives a refused fact up. It stays to be looked at for as long as settled ones do.</summary>
    /// <param name="factId">The refused fact.</param>
    /// <param name="by">Who decides.</param>
    /// <param name="reason">Why.</param>
    public Task<OutboxEntry> DropAsync(Guid factId, string by, string reason)
    {
        ArgumentException.ThrowIfNullOrWhiteSpace(reason);
        return DecideAsync(factId, OutboxState.Dropped, by, reason);
    }

    /// <summary>Sends a refused fact anew with another content, under a new id.</summary>
    /// <param name="factId">The refused fact.</param>
    /// <param name="json">The whole fact as it should be; its id is replaced by a new one.</param>
    /// <param name="by">Who decides.</param>
    /// <param name="reason">Why.</param>
    /// <returns>The new entry.</returns>
    public Task<OutboxEntry> AmendAsync(Guid factId, string json, string by, string reason)
    {
        ArgumentException.ThrowIfNullOrWhiteSpace(by);
        ArgumentException.ThrowIfNullOrWhiteSpace(reason);
        return EnqueueAsync(FactText.ReadAnew(json, FactBytesMax), new(factId, by, reason));
    }

    /// <summary>A person has seen that the file was damaged.</summary>
    /// <param name="by">Who.</param>
    public async Task AcknowledgeDamageAsync(string by)
    {
        ArgumentException.ThrowIfNullOrWhiteSpace(by);
        await writer.DoAsync<bool>(file =>
        {
            if (file.Note(OutboxNotes.Damage) is { } damage)
            {
                file.SetNote($"{OutboxNotes.Damage} acknowledged {time.GetUtcNow():O} by {by}", damage);
                file.SetNote(OutboxNotes.Damage, null);
            }

            return (true, () => Damage = null);
        }).ConfigureAwait(false);
    }

    /// <inheritdoc />
    public ValueTask DisposeAsync()
    {
        if (!isClosed)
        {
            isClosed = true;
            writer.Dispose();
            opened.Dispose();
            arrived.Dispose();
        }

        return ValueTask.CompletedTask;
    }

    private static FactOutbox Open(OutboxOptions options, TimeProvider time, ITerminalUptime uptime)
    {
        Directory.CreateDirectory(options.Folder);
        var all = new OpenedOutbox();
        try
        {
            all.Load(options, time, uptime);
            return new(options, time, all);
        }
        catch (SqliteException e)
        {
            all.Dispose();
            throw new OutboxStorageException($"The outbox in {options.Folder} can't be opened: {e.Message}", e);
        }
        catch
        {
            all.Dispose();
            throw;
        }
    }

    private Task<OutboxEntry> EnqueueAsync(FactText fact, Amendment? amendment) => writer.DoAsync<OutboxEntry>(file =>
    {
        if (TryRepeat(file, fact) is { } there)
        {
            return (there, null);
        }

        RequireRoom(fact.Json.Length);
        Action? settle = amendment is { } a ? Settle(file, a.Of, OutboxState.Amended, a.By, a.Reason, fact.Lane.FactId) : null;
        string lane;
        lock (gate)
        {
            lane = fact.Lane.Record is { } r && (index.Find(r) ?? underWay.GetValueOrDefault(r).Slot) is { } about ? about.Head.Lane : fact.Lane.Lane;
        }

        var stamp = clock.Now();
        var head = new CapsuleHead(
            ++last, fact.Lane.FactId!.Value, fact.Lane.Type, lane, lane == FactLane.Ground, stamp.Wall, stamp.Run, (long)stamp.Uptime.TotalMilliseconds, amendment?.Of);
        var row = new StoredRow(head.Number, Capsule.Write(head, fact.Json), OutboxState.Waiting, null);
        file.Insert(row);
        var slot = new Slot(head, row.Whole.Length);
        underWay[head.FactId] = (slot, row.Whole);
        underWayBytes += slot.Bytes;
        return (row.ToEntry(), () =>
        {
            lock (gate)
            {
                index.Add(slot);
            }

            settle?.Invoke();
            Wake();
        });
    });

    // The same fact again, told by a program that was not sure: it is there, and one is enough.
    private OutboxEntry? TryRepeat(OutboxFile file, FactText fact)
    {
        var id = fact.Lane.FactId!.Value;
        OutboxEntry? there;
        if (underWay.TryGetValue(id, out var fresh))
        {
            there = new StoredRow(fresh.Slot.Head.Number, fresh.Whole, OutboxState.Waiting, null).ToEntry();
        }
        else
        {
            Slot? slot;
            lock (gate)
            {
                slot = index.Find(id);
            }

            there = slot is null ? null : file.Find(slot.Head.Number)?.ToEntry();
        }

        return there is null || Encoding.UTF8.GetBytes(there.Fact).AsSpan().SequenceEqual(fact.Json)
            ? there
            : throw new OutboxConflictException($"The outbox holds a fact with the id {id} and other content. Give every fact an id of its own.");
    }

    private void RequireRoom(int bytes)
    {
        lock (gate)
        {
            var open = index.Waiting + index.Refused + underWay.Count;
            var size = index.OpenBytes + underWayBytes + bytes;
            if (open >= options.EntriesMax || size > options.BytesMax)
            {
                throw new OutboxFullException(
                    $"The outbox is full: {open} facts of at most {options.EntriesMax}, {index.OpenBytes + underWayBytes} bytes of at most {options.BytesMax}. "
                    + "This fact was not stored. Bring the service back, or settle what was refused.");
            }
        }
    }

    private Task<OutboxEntry> DecideAsync(Guid factId, OutboxState state, string by, string? reason)
    {
        ArgumentException.ThrowIfNullOrWhiteSpace(by);
        return writer.DoAsync(file =>
        {
            var then = Settle(file, factId, state, by, reason, null);
            return (file.Find(Required(factId).Head.Number)!.ToEntry(), (Action?)(() =>
            {
                then();
                Wake();
            }));
        });
    }

    private Slot Required(Guid factId)
    {
        lock (gate)
        {
            return index.Find(factId) is { State: OutboxState.Refused } slot
                ? slot
                : throw new OutboxException($"There is no refused fact {factId} in the outbox: only those can be decided on.");
        }
    }

    private Action Settle(OutboxFile file, Guid factId, OutboxState state, string by, string? reason, Guid? amendedAs)
    {
        var slot = Required(factId);
        var row = file.Find(slot.Head.Number)!;
        var before = row.Settled is null ? new() : Settlement.Read(row.Settled);
        var at = time.GetUtcNow();
        file.Update(row with { State = state, Settled = (before with { At = at, DecidedBy = by, Reason = reason, AmendedAs = amendedAs }).Write() });
        return () =>
        {
            lock (gate)
            {
                (slot.Stumbles, slot.NotBefore) = (0, TimeSpan.Zero);
                index.SetState(slot, state, at);
            }
        };
    }

    private void Ended(bool committed)
    {
        underWay.Clear();
        underWayBytes = 0;
        if (committed)
        {
            lock (gate)
            {
                opened.Mark!.Write(index.Last, index.Waiting + index.Refused);
            }
        }
    }

    private void Wake()
    {
        if (arrived.CurrentCount == 0)
        {
            try
            {
                arrived.Release();
            }
            catch (SemaphoreFullException)
            {
                // Another one was quicker: the sender is awake.
            }
        }
    }

    private sealed record Amendment(Guid Of, string By, string Reason);
}
