namespace Traceability.Contracts.Facts;

/// <summary>A revision of a routing was written or rewritten; it applies to nothing until it is released.</summary>
public sealed record RoutingDrafted : FactMessage
{
    /// <summary>The whole revision.</summary>
    public required RoutingRevision Revision { get; init; }
}

/// <summary>A revision was released: it can't be changed any more.</summary>
public sealed record RoutingReleased : FactMessage
{
    /// <summary>The item's number.</summary>
    public required string Item { get; init; }

    /// <summary>The revision.</summary>
    public required string Revision { get; init; }

    /// <summary>The code of the person who released it.</summary>
    public string? ReleasedBy { get; init; }
}

/// <summary>A second person approved a draft as it stands. Rewriting the draft ends the approval.</summary>
public sealed record RoutingApproved : FactMessage
{
    /// <summary>The item's number.</summary>
    public required string Item { get; init; }

    /// <summary>The revision.</summary>
    public required string Revision { get; init; }

    /// <summary>The code of the person who approved: nobody who wrote any version of the draft.</summary>
    public required string ApprovedBy { get; init; }
}
