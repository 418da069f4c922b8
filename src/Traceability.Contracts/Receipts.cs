using Traceability.Contracts.Facts;

namespace Traceability.Contracts;

/// <summary>The answer to a fact that is recorded. When it is given, the record is durable.</summary>
public sealed record FactReceipt
{
    /// <summary>The sender's id of the fact.</summary>
    public required Guid FactId { get; init; }

    /// <summary>The fact's type, such as <c>step-completed</c>.</summary>
    public required string Type { get; init; }

    /// <summary>The stream that it belongs to, such as <c>unit/LAMP/000123</c>.</summary>
    public required string Stream { get; init; }

    /// <summary>Its place in that stream, from 1.</summary>
    public required int Version { get; init; }

    /// <summary>When it was recorded, by the service's clock.</summary>
    public required DateTimeOffset RecordedAt { get; init; }

    /// <summary>When it happened, corrected by the measured offset of the terminal's clock.</summary>
    public required DateTimeOffset OccurredAt { get; init; }

    /// <summary>Whether it had been recorded before, with the same content; then this is the first answer again.</summary>
    public required bool IsRepeat { get; init; }

    /// <summary>The unit that it is about, for a fact about a unit.</summary>
    public UnitRef? Unit { get; init; }

    /// <summary>The findings that it raised when it was recorded; empty if none.</summary>
    public required IReadOnlyList<Finding> Findings { get; init; }
}

/// <summary>One rule that a record broke, with its evidence.</summary>
public sealed record Finding
{
    /// <summary>What is wrong: a stable code, listed in contracts/findings.json.</summary>
    public required string Kind { get; init; }

    /// <summary>The part of the routing that was broken: the code of a characteristic, requirement, position or interval; empty if none.</summary>
    public required string Rule { get; init; }

    /// <summary>The unit; null where the answer is about one unit anyway.</summary>
    public UnitRef? Unit { get; init; }

    /// <summary>The step's code; null for a finding on the unit as a whole.</summary>
    public string? Step { get; init; }

    /// <summary>The attempt at the step, from 1; 0 where the step isn't completed.</summary>
    public required int Attempt { get; init; }

    /// <summary>The id of the fact that it was found on.</summary>
    public required Guid Record { get; init; }

    /// <summary>When that happened, corrected by the clock's offset.</summary>
    public required DateTimeOffset At { get; init; }

    /// <summary>Whether the rule stops a terminal that asks first.</summary>
    public required Enforcement Enforcement { get; init; }

    /// <summary>Whether the step's attempt counts as failed in yields.</summary>
    public required bool CountsAsDefect { get; init; }

    /// <summary>What was recorded against which rule, for a person.</summary>
    public required string Message { get; init; }

    /// <summary>The values that it rests on, by name, as text with their units.</summary>
    public required IReadOnlyDictionary<string, string> Evidence { get; init; }

    /// <summary>The number of the concession under which it stands; null if none.</summary>
    public string? Concession { get; init; }
}

/// <summary>The answer to one line of a batch.</summary>
public sealed record BatchLine
{
    /// <summary>The number of the line in the batch, from 1; empty lines count and get no answer.</summary>
    public required int Line { get; init; }

    /// <summary>The sender's id of the fact, where it could be read.</summary>
    public Guid? FactId { get; init; }

    /// <summary>The HTTP status that the fact would have got by itself: 201, 200, 400, 404, 409, 503 and so on.</summary>
    public required int Status { get; init; }

    /// <summary>The receipt, if it is recorded.</summary>
    public FactReceipt? Receipt { get; init; }

    /// <summary>What is wrong, if it isn't.</summary>
    public Problem? Problem { get; init; }
}
