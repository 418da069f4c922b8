using System.Text.Json.Serialization;

namespace Traceability.Client.Outbox;

/// <summary>What is kept of the terminal's clock over restarts.</summary>
internal sealed record ClockNote
{
    /// <summary>The last reading of both clocks.</summary>
    public ClockReadingNote? Seen { get; init; }

    /// <summary>The last measurement of each of the last runs of the machine.</summary>
    public IReadOnlyList<ClockReadingNote> Measured { get; init; } = [];

    /// <summary>Steps of the clock, newest last.</summary>
    public IReadOnlyList<ClockJump> Jumps { get; init; } = [];
}

/// <summary>A reading of both clocks, with the offset from the service's where it was measured.</summary>
internal sealed record ClockReadingNote(DateTimeOffset Wall, string Run, double UptimeSeconds, double OffsetSeconds)
{
    [JsonIgnore]
    public ClockStamp Stamp => new(Wall, Run, TimeSpan.FromSeconds(UptimeSeconds));

    public static ClockReadingNote Of(ClockStamp stamp, TimeSpan offset) => new(stamp.Wall, stamp.Run, stamp.Uptime.TotalSeconds, offset.TotalSeconds);
}

/// <summary>Watches the terminal's wall clock against its steady one, and remembers what the service said of it.</summary>
internal sealed class ClockWatch
{
    private const int JumpsMax = 50;
    private const int RunsMax = 8;
    private static readonly TimeSpan NoteEvery = TimeSpan.FromMinutes(1);

    private readonly Lock gate = new();
    private readonly TimeProvider time;
    private readonly ITerminalUptime uptime;
    private readonly TimeSpan jumpMin;
    private readonly List<ClockJump> jumps;
    private readonly List<ClockReadingNote> measured;
    private ClockStamp? seen;
    private TimeSpan? notedAt;
    private bool isNew;

    public ClockWatch(TimeProvider time, ITerminalUptime uptime, TimeSpan jumpMin, ClockNote? note, ClockStamp? lastEntry)
    {
        this.time = time;
        this.uptime = uptime;
        this.jumpMin = jumpMin;
        jumps = [.. note?.Jumps ?? []];
        measured = [.. note?.Measured ?? []];
        seen = Later(note?.Seen?.Stamp, lastEntry);
    }

    public IReadOnlyList<ClockJump> Jumps
    {
        get
        {
            lock (gate)
            {
                return [.. jumps];
            }
        }
    }

    public TimeSpan Steady => uptime.Read();

    /// <summary>Reads both clocks, and notes a step of the one against the other.</summary>
    public ClockStamp Now()
    {
        lock (gate)
        {
            var now = new ClockStamp(time.GetUtcNow(), uptime.Run, uptime.Read());
            if (seen is { } before)
            {
                var step = string.Equals(before.Run, now.Run, StringComparison.Ordinal) ? ClockBridge.StepBetween(before, now) : (TimeSpan?)null;
                if (step is { } by ? by.Duration() >= jumpMin : now.Wall < before.Wall)
                {
                    jumps.Add(new(now.Wall, step));
                    jumps.RemoveRange(0, Math.Max(0, jumps.Count - JumpsMax));
                    isNew = true;
                }
            }

            seen = now;
            return now;
        }
    }

    /// <summary>Takes what the service's answers say of the clock.</summary>
    public void Learn(ClockOffset? offset)
    {
        if (offset is null)
        {
            return;
        }

        var now = Now();
        lock (gate)
        {
            isNew |= measured.Count == 0 || measured[^1].Run != now.Run || Math.Abs(measured[^1].OffsetSeconds - offset.Offset.TotalSeconds) > 1;
            measured.RemoveAll(m => m.Run == now.Run);
            measured.Add(ClockReadingNote.Of(now, offset.Offset));
            measured.RemoveRange(0, Math.Max(0, measured.Count - RunsMax));
        }
    }

    /// <summary>Whether the clock was measured in this run of the machine.</summary>
    public bool IsMeasured
    {
        get
        {
            lock (gate)
            {
                return Of(uptime.Run) is not null;
            }
        }
    }

    /// <summary>What to say of the clock of an entry; as long as the clock was not measured in this run, it is taken as right.</summary>
    public (RequestClock Said, ClockProof Proof) Say(Slot slot, ClockStamp now)
    {
        lock (gate)
        {
            // It may have been set since it was measured.
            var offset = Of(now.Run) is { } m ? m.Offset - ClockBridge.StepBetween(m.Stamp, now) : TimeSpan.Zero;
            return ClockBridge.Say(slot.Head.Stamp, now, Of(slot.Head.Run), offset, slot.LatestBefore);
        }
    }

    /// <summary>What is to be kept; null if it need not be written now.</summary>
    public ClockNote? TakeNote()
    {
        lock (gate)
        {
            var steady = uptime.Read();
            if (seen is null || (!isNew && notedAt is { } at && steady - at < NoteEvery))
            {
                return null;
            }

            (isNew, notedAt) = (false, steady);
            return new() { Seen = ClockReadingNote.Of(seen.Value, TimeSpan.Zero), Measured = [.. measured], Jumps = [.. jumps] };
        }
    }

    private ClockMeasurement? Of(string run) =>
        measured.Find(m => m.Run == run) is { } note ? new(note.Stamp, TimeSpan.FromSeconds(note.OffsetSeconds)) : null;

    private static ClockStamp? Later(ClockStamp? a, ClockStamp? b) =>
        a is { } x && b is { } y ? (x.Run == y.Run && x.Uptime > y.Uptime ? x : y) : a ?? b;
}
