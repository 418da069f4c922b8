namespace Traceability.Contracts.Facts;

/// <summary>One unit: its item and its serial number.</summary>
public sealed record UnitRef
{
    /// <summary>The item's number; 1 to 30 characters.</summary>
    public required string Item { get; init; }

    /// <summary>The serial number; 1 to 20 characters.</summary>
    public required string Serial { get; init; }
}

/// <summary>One lot: its item and its lot number.</summary>
public sealed record LotRef
{
    /// <summary>The item's number; 1 to 30 characters.</summary>
    public required string Item { get; init; }

    /// <summary>The lot's number; 1 to 20 characters.</summary>
    public required string Lot { get; init; }
}

/// <summary>A value with its unit, as entered.</summary>
public sealed record QuantityValue
{
    /// <summary>The number in Unit, with the digits as reported; at most 28.</summary>
    public required decimal Value { get; init; }

    /// <summary>The unit as a case-sensitive UCUM code, such as g or N.m; 1 for a plain number.</summary>
    public required string Unit { get; init; }
}

/// <summary>A named moment within a step.</summary>
public sealed record StepMark
{
    /// <summary>The mark's name, such as OVEN-IN.</summary>
    public required string Name { get; init; }

    /// <summary>When, by the terminal's clock.</summary>
    public required DateTimeOffset At { get; init; }
}

/// <summary>Material used at a step.</summary>
public sealed record MaterialUse
{
    /// <summary>The item's number.</summary>
    public required string Item { get; init; }

    /// <summary>The lot; several mean one of these (a changeover that nobody timed); none means not recorded.</summary>
    public IReadOnlyList<string>? Lots { get; init; }

    /// <summary>The container, where it was scanned.</summary>
    public string? Container { get; init; }

    /// <summary>How much, where it was recorded; not negative.</summary>
    public QuantityValue? Quantity { get; init; }

    /// <summary>The requirement that it serves; null: the one that accepts the item.</summary>
    public string? Requirement { get; init; }
}

/// <summary>A tool used at a step.</summary>
public sealed record ToolUse
{
    /// <summary>The tool's number.</summary>
    public required string Tool { get; init; }

    /// <summary>Its clutch or program setting as read off the tool.</summary>
    public string? Setting { get; init; }

    /// <summary>The requirement that it serves; null: the one of its class.</summary>
    public string? Requirement { get; init; }
}

/// <summary>A measured value, as entered.</summary>
public sealed record Measurement
{
    /// <summary>What was measured.</summary>
    public required string Characteristic { get; init; }

    /// <summary>The number in Unit, with the digits as reported; at most 28.</summary>
    public required decimal Value { get; init; }

    /// <summary>The unit as a case-sensitive UCUM code.</summary>
    public required string Unit { get; init; }

    /// <summary>The standard uncertainty of the value, in Unit (JCGM 100, 2.3.1); not negative; null where it is not stated.</summary>
    public decimal? StandardUncertainty { get; init; }
}

/// <summary>The result of a pass/fail check.</summary>
public sealed record CheckResult
{
    /// <summary>What was checked.</summary>
    public required string Characteristic { get; init; }

    /// <summary>Whether it passed.</summary>
    public required bool Passed { get; init; }
}

/// <summary>A component unit put in at a position.</summary>
public sealed record ComponentUse
{
    /// <summary>Where in the unit.</summary>
    public required string Position { get; init; }

    /// <summary>The component unit.</summary>
    public required UnitRef Component { get; init; }
}

/// <summary>A defect that a person saw.</summary>
public sealed record DefectReport
{
    /// <summary>The defect's code.</summary>
    public required string Defect { get; init; }

    /// <summary>How often it was seen, from 1.</summary>
    public int Count { get; init; } = 1;

    /// <summary>Free text; at most 2,000 characters.</summary>
    public string? Note { get; init; }
}
