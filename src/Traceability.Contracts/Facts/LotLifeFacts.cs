namespace Traceability.Contracts.Facts;

/// <summary>A lot that material was taken out of.</summary>
public sealed record LotSource
{
    /// <summary>The lot; of the same item as the one that it goes into, except for a mix.</summary>
    public required LotRef Lot { get; init; }

    /// <summary>How much; not negative.</summary>
    public QuantityValue? Quantity { get; init; }

    /// <summary>The container that it was taken out of; null: any.</summary>
    public string? Container { get; init; }
}

/// <summary>A new lot was made of a part of another one. It has the other one's end of shelf life, release and inspection.</summary>
public sealed record LotSplit : FactMessage
{
    /// <summary>The new lot.</summary>
    public required LotRef Lot { get; init; }

    /// <summary>What it was taken out of.</summary>
    public required LotSource Source { get; init; }

    /// <summary>Codes of the stations where it could be used; none: everywhere.</summary>
    public IReadOnlyList<string>? Stations { get; init; }
}

/// <summary>Material of other lots was put into this one, which may be new by that. The earliest end of shelf life counts.</summary>
public sealed record LotMerged : FactMessage
{
    /// <summary>The lot that it was put into.</summary>
    public required LotRef Lot { get; init; }

    /// <summary>What it was taken out of; at least one.</summary>
    public required IReadOnlyList<LotSource> Sources { get; init; }

    /// <summary>Codes of the stations where it could be used; none: where the lot could be before, or everywhere.</summary>
    public IReadOnlyList<string>? Stations { get; init; }
}

/// <summary>Material of other items was mixed into a new lot, whose item declares what it is mixed of. Every draw of it holds material of each part.</summary>
public sealed record LotMixed : FactMessage
{
    /// <summary>The new lot.</summary>
    public required LotRef Lot { get; init; }

    /// <summary>What it was mixed of; at least two.</summary>
    public required IReadOnlyList<LotSource> Parts { get; init; }

    /// <summary>Codes of the stations where it could be used; none: everywhere.</summary>
    public IReadOnlyList<string>? Stations { get; init; }
}

/// <summary>The lot was inspected on receipt, or again.</summary>
public sealed record LotInspected : FactMessage
{
    /// <summary>The lot.</summary>
    public required LotRef Lot { get; init; }

    /// <summary>Whether it was accepted. A lot that was rejected may not be used.</summary>
    public required bool Accepted { get; init; }

    /// <summary>How many pieces were looked at; from 1.</summary>
    public int? SampleCount { get; init; }

    /// <summary>What was looked at, and how that came out.</summary>
    public IReadOnlyList<LotInspectionResult>? Results { get; init; }

    /// <summary>The certificate, by reference.</summary>
    public string? Certificate { get; init; }

    /// <summary>Free text.</summary>
    public string? Note { get; init; }
}

/// <summary>One thing that was looked at when a lot was inspected.</summary>
public sealed record LotInspectionResult
{
    /// <summary>What: a code.</summary>
    public required string Characteristic { get; init; }

    /// <summary>Whether it was as required.</summary>
    public required bool Passed { get; init; }

    /// <summary>The value, where one was measured.</summary>
    public QuantityValue? Value { get; init; }
}

/// <summary>The lot may be used until another time, by evidence. It counts from when it happened on, and for no use before.</summary>
public sealed record LotRecertified : FactMessage
{
    /// <summary>The lot.</summary>
    public required LotRef Lot { get; init; }

    /// <summary>The new end of shelf life, after the present one.</summary>
    public required DateTimeOffset ExpiresAt { get; init; }

    /// <summary>What shows it, by reference; 1 to 2,000 characters.</summary>
    public required string Evidence { get; init; }

    /// <summary>Code of the person who authorised it.</summary>
    public required string AuthorisedBy { get; init; }
}

/// <summary>Somebody counted, weighed or measured how much is there.</summary>
public sealed record StockCounted : FactMessage
{
    /// <summary>The lot.</summary>
    public required LotRef Lot { get; init; }

    /// <summary>The container that was counted; null: the whole lot.</summary>
    public string? Container { get; init; }

    /// <summary>How much is there; not negative.</summary>
    public required QuantityValue Quantity { get; init; }

    /// <summary>What is booked in with this count, because where it came from is known; not negative.</summary>
    public QuantityValue? Gain { get; init; }

    /// <summary>What is booked out with this count, because where it went is known; not negative.</summary>
    public QuantityValue? Loss { get; init; }

    /// <summary>Why it was booked; needed with a gain or a loss.</summary>
    public string? Reason { get; init; }
}
