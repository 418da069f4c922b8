using Traceability.Contracts;

namespace Traceability.Client.Outbox;

/// <summary>The outbox at one look.</summary>
public sealed record OutboxView
{
    /// <summary>Gets how many facts wait to be acknowledged.</summary>
    public required int Waiting { get; init; }

    /// <summary>Gets how many were refused and wait for a person.</summary>
    public required int Refused { get; init; }

    /// <summary>Gets how many acknowledged ones are still kept.</summary>
    public required int Sent { get; init; }

    /// <summary>Gets how many refused ones were amended or dropped, and are still kept.</summary>
    public required int Decided { get; init; }

    /// <summary>Gets how long the oldest waiting one has waited; null if none waits.</summary>
    public required TimeSpan? OldestWaiting { get; init; }

    /// <summary>Gets how full it is, 0 to 1, by number or bytes, whichever is more.</summary>
    public required double Fill { get; init; }

    /// <summary>Gets when a fact was last acknowledged since this process opened the outbox.</summary>
    public required DateTimeOffset? LastSentAt { get; init; }

    /// <summary>Gets what went wrong last while sending; null when the last request succeeded.</summary>
    public required OutboxTrouble? Trouble { get; init; }

    /// <summary>Gets whether a sender of this process runs on it.</summary>
    public required bool IsSending { get; init; }

    /// <summary>Gets the steps of the terminal's clock that were seen while facts waited, newest last; at most 50.</summary>
    public required IReadOnlyList<ClockJump> ClockJumps { get; init; }

    /// <summary>Gets how many of the waiting facts were stamped by a clock of which nothing can be proven any more.</summary>
    public required int WaitingOnUnprovenClock { get; init; }

    /// <summary>Gets what was found when the file was damaged; null unless it was, and until a person has acknowledged it.</summary>
    public required OutboxDamage? Damage { get; init; }
}

/// <summary>What keeps facts from being sent.</summary>
/// <param name="At">Since when, by the terminal's clock.</param>
/// <param name="Message">What happened, for a person.</param>
/// <param name="IsCircuitOpen">Whether so many tries failed that none is made for a while.</param>
/// <param name="NextTryAt">When it is tried again; null while it is being tried.</param>
/// <param name="Failures">How many tries failed in a row.</param>
/// <param name="Problem">What the service said, if it said something.</param>
public sealed record OutboxTrouble(DateTimeOffset At, string Message, bool IsCircuitOpen, DateTimeOffset? NextTryAt, int Failures, Problem? Problem);

/// <summary>A step of the terminal's wall clock against its steady one.</summary>
/// <param name="NoticedAt">When it was noticed, by the clock after the step.</param>
/// <param name="By">How far it went: positive when forwards. Null where only its direction is known (backwards, over a restart of the machine).</param>
public sealed record ClockJump(DateTimeOffset NoticedAt, TimeSpan? By);

/// <summary>What was found wrong with the outbox's file, and what became of it.</summary>
/// <param name="FoundAt">When, by the terminal's clock.</param>
/// <param name="Reasons">What is wrong, in words.</param>
/// <param name="MovedTo">Where the damaged files are now: keep them until somebody has looked.</param>
/// <param name="Salvaged">Facts taken over with all that was known of them.</param>
/// <param name="SalvagedAsWaiting">Facts whose content is whole and whose state was lost: they wait again; the service answers those it has as repeats.</param>
/// <param name="Missing">How many facts are gone, at least.</param>
/// <param name="MayMissMore">Whether there may be others gone of which no trace is left.</param>
public sealed record OutboxDamage(
    DateTimeOffset FoundAt, IReadOnlyList<string> Reasons, IReadOnlyList<string> MovedTo, int Salvaged, int SalvagedAsWaiting, int Missing, bool MayMissMore);
