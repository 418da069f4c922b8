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

/// <summary>A person decided that in an item a component may be replaced with another one that does the same: form, fit and function.</summary>
/// <remarks>It goes one way and one step: that B may replace A says nothing of A for B, nor of what may replace B.</remarks>
public sealed record ReplacementDeclared : FactMessage
{
    /// <summary>The number of the item whose routing takes the component.</summary>
    public required string Item { get; init; }

    /// <summary>The component's item, as the routing names it.</summary>
    public required string Replaced { get; init; }

    /// <summary>The item that may take its place.</summary>
    public required string With { get; init; }

    /// <summary>The revisions of the routing in which it may; none: in all.</summary>
    public IReadOnlyList<string>? Revisions { get; init; }

    /// <summary>The first moment at which it may be put in; null: from the decision on.</summary>
    public DateTimeOffset? ValidFrom { get; init; }

    /// <summary>Why, in words; 1 to 2,000 characters.</summary>
    public required string Reason { get; init; }

    /// <summary>The code of the person who decided.</summary>
    public required string AuthorisedBy { get; init; }
}
