namespace Traceability.Contracts.Facts;

/// <summary>What came of following up a member of a containment.</summary>
public enum FollowUpOutcome
{
    /// <summary>Inspected, and nothing was found on it. Final; its hold can be lifted.</summary>
    InspectedGood,

    /// <summary>Reworked or repaired. Final; its hold can be lifted.</summary>
    Reworked,

    /// <summary>Records show that it does not carry the suspect. Final, with a note; its hold can be lifted.</summary>
    NotAffected,

    /// <summary>The consignee got another one for it. Final.</summary>
    Replaced,

    /// <summary>Scrapped. Final.</summary>
    Scrapped,

    /// <summary>The consignee was told and keeps it, by a decision. Final, with a note.</summary>
    LeftWithConsignee,

    /// <summary>Nobody could be reached who has it. Final, with a note.</summary>
    NotReachable,

    /// <summary>It came back and waits for what is to become of it. Not final.</summary>
    Returned,

    /// <summary>The consignee was told; an answer is awaited. Not final.</summary>
    ConsigneeNotified,
}

/// <summary>A person followed up members of a containment. Of several outcomes of one member the one that was done last counts. Names its person.</summary>
public sealed record FollowUpRecorded : FactMessage
{
    /// <summary>The number of the case.</summary>
    public required string Containment { get; init; }

    /// <summary>The members, each once; 1 to 500.</summary>
    public required IReadOnlyList<UnitRef> Units { get; init; }

    /// <summary>What came of it.</summary>
    public required FollowUpOutcome Outcome { get; init; }

    /// <summary>Free text; at most 2,000 characters. Needed by not-affected, left-with-consignee and not-reachable.</summary>
    public string? Note { get; init; }

    /// <summary>The ids of records that show it; at most 500.</summary>
    public IReadOnlyList<Guid>? Evidence { get; init; }
}

/// <summary>A person closes a containment. Refused while a member has no final outcome, or one that came late is not acknowledged. Names its person.</summary>
public sealed record ContainmentClosed : FactMessage
{
    /// <summary>The number of the case.</summary>
    public required string Containment { get; init; }

    /// <summary>What came of it, in words; 1 to 2,000 characters.</summary>
    public required string Conclusion { get; init; }
}

/// <summary>A person opens a closed containment again. Names its person.</summary>
public sealed record ContainmentReopened : FactMessage
{
    /// <summary>The number of the case.</summary>
    public required string Containment { get; init; }

    /// <summary>Why, in words; 1 to 2,000 characters.</summary>
    public required string Reason { get; init; }
}

/// <summary>A person takes note of all members of a containment that came late so far: the alarm ends. Names its person.</summary>
public sealed record LateMembersAcknowledged : FactMessage
{
    /// <summary>The number of the case.</summary>
    public required string Containment { get; init; }

    /// <summary>Free text; at most 2,000 characters.</summary>
    public string? Note { get; init; }
}
