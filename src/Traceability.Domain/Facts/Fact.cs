using System.Text.Json.Serialization;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Facts;

/// <summary>What a person, tool or terminal reported. Appended once, never edited, never deleted.</summary>
/// <remarks>
/// Every fact is a sealed record with a pinned stored name in the service's list of event names.
/// The sender's id and the time of recording are the store's metadata: <see cref="RecordedFact"/>.
/// </remarks>
public abstract record Fact
{
    /// <summary>When it happened, by the clock of the terminal that reported it, uncorrected.</summary>
    public required DateTimeOffset OccurredAt { get; init; }

    /// <summary>What the service knew of that clock when the fact arrived.</summary>
    public ClockReading Clock { get; init; }

    /// <summary>The station that it happened at; null for a fact that has no place.</summary>
    public StationCode? Station { get; init; }

    /// <summary>Who did it; null where nobody was named.</summary>
    public PersonCode? Person { get; init; }

    /// <summary>The name of the access key that sent it, set by the service.</summary>
    public string? SentBy { get; init; }

    /// <summary>When it happened, corrected by the measured offset of the clock. Judgements use this.</summary>
    [JsonIgnore]
    public DateTimeOffset At => Instant.Shift(OccurredAt, Clock.Offset);
}

/// <summary>What the service knew of a terminal's clock when a fact arrived.</summary>
/// <param name="Offset">What to add to the terminal's time to get the service's time; zero while within tolerance.</param>
/// <param name="Uncertainty">How far a corrected time may be off, either way; never negative.</param>
/// <param name="Doubtful">The clock was off by more than the set bound, so when it went off isn't known.</param>
public readonly record struct ClockReading(TimeSpan Offset, TimeSpan Uncertainty, bool Doubtful);

/// <summary>A fact with what the store knows of it.</summary>
/// <param name="Id">The id that its sender chose.</param>
/// <param name="Fact">What was reported.</param>
/// <param name="RecordedAt">When the service stored it.</param>
public sealed record RecordedFact(Guid Id, Fact Fact, DateTimeOffset RecordedAt);

/// <summary>A stored event that can't be read. It is kept in its place as an explicit unknown, never skipped.</summary>
/// <param name="StoredName">The event's stored name.</param>
/// <param name="Reason">Why it can't be read.</param>
public sealed record UnreadableFact(string StoredName, string Reason) : Fact
{
    /// <summary>What is stored, for a person to look at.</summary>
    public string? Content { get; init; }
}

/// <summary>Another fact is replaced, as judgements see it, by what should have been reported.</summary>
/// <param name="Record">The id of the fact that is corrected.</param>
/// <param name="Replacement">What should have been reported, whole; of the corrected fact's own type.</param>
/// <param name="Reason">Why, in words.</param>
/// <param name="AuthorisedBy">Who authorised it.</param>
public sealed record RecordCorrected(Guid Record, Fact Replacement, string Reason, PersonCode AuthorisedBy) : Fact;

/// <summary>Another fact no longer counts, as judgements see it. A voided void restores what it voided.</summary>
/// <param name="Record">The id of the fact that no longer counts.</param>
/// <param name="Reason">Why, in words.</param>
/// <param name="AuthorisedBy">Who authorised it.</param>
public sealed record RecordVoided(Guid Record, string Reason, PersonCode AuthorisedBy) : Fact;
