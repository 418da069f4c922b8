using Traceability.Contracts;

namespace Traceability.Client.Outbox;

/// <summary>Where a fact of the outbox stands.</summary>
public enum OutboxState
{
    /// <summary>Stored here; not yet acknowledged by the service.</summary>
    Waiting = 0,

    /// <summary>Acknowledged: the service has recorded it.</summary>
    Sent = 1,

    /// <summary>The service refused it. A person decides: send again, amend, or drop.</summary>
    Refused = 2,

    /// <summary>Refused, and sent anew as amended under another id.</summary>
    Amended = 3,

    /// <summary>Refused, and given up by a person, with a reason.</summary>
    Dropped = 4,
}

/// <summary>One fact of the outbox.</summary>
public sealed record OutboxEntry
{
    /// <summary>Gets its place in the outbox: facts are numbered from 1 in the order in which they came.</summary>
    public required long Number { get; init; }

    /// <summary>Gets its id, the same over every retry and restart.</summary>
    public required Guid FactId { get; init; }

    /// <summary>Gets its type, such as step-completed.</summary>
    public required string Type { get; init; }

    /// <summary>Gets what it is about: facts of one lane are sent strictly one after another.</summary>
    public required string Lane { get; init; }

    /// <summary>Gets the fact as JSON, as it is sent.</summary>
    public required string Fact { get; init; }

    /// <summary>Gets when it was taken in, by the terminal's clock then.</summary>
    public required DateTimeOffset EnqueuedAt { get; init; }

    /// <summary>Gets where it stands.</summary>
    public required OutboxState State { get; init; }

    /// <summary>Gets the refused fact that this one amends.</summary>
    public Guid? Amends { get; init; }

    /// <summary>Gets when it was sent or refused, or last decided on.</summary>
    public DateTimeOffset? SettledAt { get; init; }

    /// <summary>Gets the service's receipt with its findings, once sent.</summary>
    public FactReceipt? Receipt { get; init; }

    /// <summary>Gets why it was refused, with every fault.</summary>
    public Problem? Problem { get; init; }

    /// <summary>Gets who decided on it when it was refused.</summary>
    public string? DecidedBy { get; init; }

    /// <summary>Gets why it was decided so.</summary>
    public string? Reason { get; init; }

    /// <summary>Gets the id under which it was sent as amended.</summary>
    public Guid? AmendedAs { get; init; }

    /// <summary>Gets what could be said of the terminal's clock when it was sent.</summary>
    public ClockProof? Clock { get; init; }
}
