using Traceability.Client.Outbox.Storage;

namespace Traceability.Client.Outbox;

/// <summary>What is kept in memory of one entry.</summary>
internal sealed class Slot(CapsuleHead head, int bytes)
{
    public CapsuleHead Head { get; } = head;

    public int Bytes { get; } = bytes;

    public OutboxState State { get; set; } = OutboxState.Waiting;

    public DateTimeOffset? SettledAt { get; set; }

    /// <summary>The latest that the wall clock had shown at any entry before.</summary>
    public DateTimeOffset? LatestBefore { get; set; }

    /// <summary>By the steady clock of this process: not sent before then.</summary>
    public TimeSpan NotBefore { get; set; }

    /// <summary>How often the service could not say what became of it, though it answered for others.</summary>
    public int Stumbles { get; set; }

    public bool IsOpen => State is OutboxState.Waiting or OutboxState.Refused;
}

/// <summary>All entries of the file, in memory: what waits, in which order it may be sent. Used under the outbox's lock.</summary>
internal sealed class OutboxIndex
{
    // One that stumbled so often no longer holds up what rests on other things.
    private const int StumblesMax = 5;

    private readonly SortedDictionary<long, Slot> slots = [];
    private readonly Dictionary<Guid, Slot> byId = [];
    private readonly Dictionary<string, SortedSet<long>> lanes = new(StringComparer.Ordinal);
    private readonly SortedSet<long> heads = [];
    private DateTimeOffset? latest;

    public int Waiting { get; private set; }

    public int Refused { get; private set; }

    public int Sent { get; private set; }

    public int Decided { get; private set; }

    public long OpenBytes { get; private set; }

    public long Last { get; private set; }

    public IEnumerable<Slot> All => slots.Values;

    public Slot? Find(Guid id) => byId.GetValueOrDefault(id);

    /// <summary>The oldest that waits; null if none does.</summary>
    public Slot? OldestWaiting => heads.Count == 0 ? null : slots[heads.Min];

    public void Add(Slot slot)
    {
        slots.Add(slot.Head.Number, slot);
        byId.Add(slot.Head.FactId, slot);
        Last = Math.Max(Last, slot.Head.Number);
        slot.LatestBefore = latest;
        latest = latest is { } l && l > slot.Head.Wall ? l : slot.Head.Wall;
        Count(slot, 1);
    }

    public void SetState(Slot slot, OutboxState state, DateTimeOffset? at)
    {
        Count(slot, -1);
        (slot.State, slot.SettledAt) = (state, at);
        Count(slot, 1);
    }

    public void Remove(Slot slot)
    {
        Count(slot, -1);
        slots.Remove(slot.Head.Number);
        byId.Remove(slot.Head.FactId);
    }

    /// <summary>What may be sent now, oldest first: of each lane the first, nothing that came after ground that is still waiting.</summary>
    /// <param name="steady">The steady clock of this process.</param>
    public IEnumerable<Slot> Sendable(TimeSpan steady)
    {
        foreach (var number in heads)
        {
            var slot = slots[number];
            if (slot.NotBefore <= steady)
            {
                yield return slot;
            }

            if (slot.Head.IsGround && slot.Stumbles < StumblesMax)
            {
                yield break;
            }
        }
    }

    /// <summary>By the steady clock: when something may be sent that may not be now; null if nothing waits for its time.</summary>
    public TimeSpan? NextDue(TimeSpan steady)
    {
        TimeSpan? due = null;
        foreach (var number in heads)
        {
            var at = slots[number].NotBefore;
            due = at > steady && (due is null || at < due) ? at : due;
        }

        return due;
    }

    private void Count(Slot slot, int by)
    {
        switch (slot.State)
        {
            case OutboxState.Waiting:
                Waiting += by;
                Line(slot, by > 0);
                break;
            case OutboxState.Refused:
                Refused += by;
                break;
            case OutboxState.Sent:
                Sent += by;
                break;
            default:
                Decided += by;
                break;
        }

        OpenBytes += slot.IsOpen ? by * slot.Bytes : 0;
    }

    // Puts it into its lane, or takes it out; heads holds the first of each.
    private void Line(Slot slot, bool enters)
    {
        var number = slot.Head.Number;
        if (!lanes.TryGetValue(slot.Head.Lane, out var lane))
        {
            lanes[slot.Head.Lane] = lane = [];
        }

        if (lane.Count > 0)
        {
            heads.Remove(lane.Min);
        }

        _ = enters ? lane.Add(number) : lane.Remove(number);
        if (lane.Count > 0)
        {
            heads.Add(lane.Min);
        }
        else
        {
            lanes.Remove(slot.Head.Lane);
        }
    }
}
