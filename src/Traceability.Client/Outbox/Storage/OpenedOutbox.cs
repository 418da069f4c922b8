namespace Traceability.Client.Outbox.Storage;

/// <summary>What an open outbox holds: the lock, the mark, the file, and what was read off it.</summary>
internal sealed class OpenedOutbox : IDisposable
{
    private OutboxLock? held;

    public OutboxMark? Mark { get; private set; }

    public OutboxFile? File { get; private set; }

    public OutboxIndex Index { get; } = new();

    public ClockWatch? Clock { get; private set; }

    public OutboxDamage? Damage { get; private set; }

    /// <summary>Takes the lock, opens the file and reads all of it.</summary>
    public void Load(OutboxOptions options, TimeProvider time, ITerminalUptime uptime)
    {
        held = OutboxLock.Take(options.Folder);
        Mark = OutboxMark.Open(options.Folder);
        (File, var found) = OutboxSalvage.Open(options.Folder, Mark, time.GetUtcNow());
        foreach (var (row, _) in File.Rows())
        {
            Capsule.TryRead(row.Whole, out var head, out _, out _);
            var slot = new Slot(head, row.Whole.Length);
            Index.Add(slot);
            if (row.State != OutboxState.Waiting)
            {
                Index.SetState(slot, row.State, row.Settled is null ? null : Settlement.Read(row.Settled).At);
            }
        }

        Damage = OutboxNotes.Read<OutboxDamage>(File.Note(OutboxNotes.Damage));
        Clock = new(time, uptime, options.ClockJumpMin, OutboxNotes.Read<ClockNote>(File.Note(OutboxNotes.Clock)), Index.All.LastOrDefault()?.Head.Stamp);
        if (File.Durability() is not ("wal", 2) and var level)
        {
            throw new OutboxStorageException($"The file in {options.Folder} can't be made durable here ({level.Journal}, {level.Synchronous}). Put it on a disk of this machine.");
        }

        if (found is not null)
        {
            options.OnDamage?.Invoke(found);
        }
    }

    /// <inheritdoc />
    public void Dispose()
    {
        File?.Dispose();
        Mark?.Dispose();
        held?.Dispose();
    }
}
