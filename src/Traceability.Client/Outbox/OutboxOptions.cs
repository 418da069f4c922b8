namespace Traceability.Client.Outbox;

/// <summary>How a <see cref="FactOutbox"/> keeps facts.</summary>
public sealed record OutboxOptions
{
    /// <summary>Gets the folder of the outbox, made if it is missing; on a disk of this machine, not on a network share.</summary>
    public required string Folder { get; init; }

    /// <summary>Gets the most facts that may be there unsent or refused; a further one is not taken. Default 100,000.</summary>
    public int EntriesMax { get; init; } = 100_000;

    /// <summary>Gets the most bytes that facts unsent or refused may take together. Default 256 MiB.</summary>
    public long BytesMax { get; init; } = 256L * 1024 * 1024;

    /// <summary>Gets how long what is settled (sent, replaced, dropped) stays to be looked at. Default 7 days.</summary>
    public TimeSpan KeepSettled { get; init; } = TimeSpan.FromDays(7);

    /// <summary>Gets the most settled facts that stay. Default 20,000.</summary>
    public int SettledMax { get; init; } = 20_000;

    /// <summary>Gets from what size on a step of the terminal's clock is told. Default 2 s; at least 1 s.</summary>
    public TimeSpan ClockJumpMin { get; init; } = TimeSpan.FromSeconds(2);

    /// <summary>Gets what is called when the file was found damaged, before the outbox is given out; null: look at <see cref="FactOutbox.Damage"/>.</summary>
    public Action<OutboxDamage>? OnDamage { get; init; }
}
