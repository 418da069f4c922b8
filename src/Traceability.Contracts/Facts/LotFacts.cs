namespace Traceability.Contracts.Facts;

/// <summary>A lot came in, or was made.</summary>
public sealed record LotReceived : FactMessage
{
    /// <summary>The lot.</summary>
    public required LotRef Lot { get; init; }

    /// <summary>The supplier's own lot, as marked.</summary>
    public string? SupplierLot { get; init; }

    /// <summary>Who supplied it, by name or code.</summary>
    public string? Supplier { get; init; }

    /// <summary>How much came in; not negative.</summary>
    public QuantityValue? Quantity { get; init; }

    /// <summary>The end of its shelf life: it may not be used at or after it.</summary>
    public DateTimeOffset? ExpiresAt { get; init; }

    /// <summary>Whether it may be used from receipt on.</summary>
    public required bool IsReleased { get; init; }

    /// <summary>Codes of the stations where it could be used; none: everywhere.</summary>
    public IReadOnlyList<string>? Stations { get; init; }
}

/// <summary>The lot may be used from here on.</summary>
public sealed record LotReleased : FactMessage
{
    /// <summary>The lot.</summary>
    public required LotRef Lot { get; init; }
}

/// <summary>The lot may not be used from here on, and is taken from the stations.</summary>
public sealed record LotQuarantined : FactMessage
{
    /// <summary>The lot.</summary>
    public required LotRef Lot { get; init; }

    /// <summary>Why, in words; 1 to 2,000 characters.</summary>
    public required string Reason { get; init; }
}

/// <summary>The end of the lot's shelf life was set anew.</summary>
public sealed record LotExpirySet : FactMessage
{
    /// <summary>The lot.</summary>
    public required LotRef Lot { get; init; }

    /// <summary>It may not be used at or after this time.</summary>
    public required DateTimeOffset ExpiresAt { get; init; }

    /// <summary>Why, in words; 1 to 2,000 characters.</summary>
    public required string Reason { get; init; }
}

/// <summary>The lot was moved: from here on it could be used at these stations only.</summary>
public sealed record LotMoved : FactMessage
{
    /// <summary>The lot.</summary>
    public required LotRef Lot { get; init; }

    /// <summary>Codes of the stations where it could be used; none: everywhere.</summary>
    public IReadOnlyList<string>? Stations { get; init; }
}

/// <summary>Nothing of the lot is left.</summary>
public sealed record LotEmptied : FactMessage
{
    /// <summary>The lot.</summary>
    public required LotRef Lot { get; init; }

    /// <summary>How much was thrown away with it; not negative.</summary>
    public QuantityValue? Discarded { get; init; }
}

/// <summary>A container of the lot was opened; its life after opening starts.</summary>
public sealed record ContainerOpened : FactMessage
{
    /// <summary>The lot.</summary>
    public required LotRef Lot { get; init; }

    /// <summary>The container's number within the lot.</summary>
    public required string Container { get; init; }

    /// <summary>Codes of the stations where it could be used; none: everywhere.</summary>
    public IReadOnlyList<string>? Stations { get; init; }

    /// <summary>How much was in it; not negative.</summary>
    public QuantityValue? Quantity { get; init; }
}

/// <summary>A container of the lot was used up or thrown away.</summary>
public sealed record ContainerEmptied : FactMessage
{
    /// <summary>The lot.</summary>
    public required LotRef Lot { get; init; }

    /// <summary>The container's number within the lot.</summary>
    public required string Container { get; init; }

    /// <summary>How much of it was thrown away; not negative.</summary>
    public QuantityValue? Discarded { get; init; }
}
