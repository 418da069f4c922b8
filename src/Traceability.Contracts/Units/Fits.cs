using Traceability.Contracts.Facts;

namespace Traceability.Contracts.Units;

/// <summary>Which of these would fit? Sizes at hand, units that were measured, or both.</summary>
public sealed record FitQuestion
{
    /// <summary>The code of the characteristic of the step that the part must meet.</summary>
    public required string Characteristic { get; init; }

    /// <summary>Sizes at hand; at most 500.</summary>
    public IReadOnlyList<FitSize>? Sizes { get; init; }

    /// <summary>Units to look among; null: none.</summary>
    public FitMates? Mates { get; init; }
}

/// <summary>One size at hand.</summary>
public sealed record FitSize
{
    /// <summary>What it is called, such as 0.50; 1 to 2,000 characters.</summary>
    public required string Name { get; init; }

    /// <summary>The number in Unit.</summary>
    public required decimal Value { get; init; }

    /// <summary>The unit as a case-sensitive UCUM code.</summary>
    public required string Unit { get; init; }

    /// <summary>The standard uncertainty of the value, in Unit; not negative; null where it is not stated.</summary>
    public decimal? StandardUncertainty { get; init; }
}

/// <summary>Units of an item that are in stock and inside no other unit, and what was measured on them.</summary>
public sealed record FitMates
{
    /// <summary>The item's number.</summary>
    public required string Item { get; init; }

    /// <summary>The code of the step that measured it.</summary>
    public required string Step { get; init; }

    /// <summary>The characteristic measured.</summary>
    public required string Characteristic { get; init; }

    /// <summary>The most units to look at, by serial number, 1 to 200; 100 if left out.</summary>
    public int? Limit { get; init; }
}

/// <summary>What fits, by the rule that judges the step afterwards. A proposal: nothing is recorded.</summary>
/// <param name="Unit">The unit.</param>
/// <param name="Step">The step's code.</param>
/// <param name="Characteristic">The characteristic's code.</param>
/// <param name="Name">What is measured, in words.</param>
/// <param name="UnitOfMeasure">UCUM code of the window.</param>
/// <param name="AskedAt">The moment that the answer is for.</param>
/// <param name="IsKnown">Whether every value that a limit depends on is recorded; else nothing is said to fit.</param>
/// <param name="Lower">The lower limit; null: none.</param>
/// <param name="Upper">The upper limit; null: none.</param>
/// <param name="Middle">Halfway between the limits; null unless both are known.</param>
/// <param name="GuardBand">Taken off both limits (ISO 14253-1).</param>
/// <param name="Candidates">The candidates, the one with the largest margin first.</param>
/// <param name="Completeness">What may be missing from it.</param>
public sealed record FitProposal(
    UnitRef Unit,
    string Step,
    string Characteristic,
    string Name,
    string UnitOfMeasure,
    DateTimeOffset AskedAt,
    bool IsKnown,
    WorkedLimitView? Lower,
    WorkedLimitView? Upper,
    decimal? Middle,
    decimal GuardBand,
    IReadOnlyList<FitCandidateView> Candidates,
    Completeness Completeness);

/// <summary>A size or unit, held against the window.</summary>
/// <param name="Name">The size's name, or item and serial.</param>
/// <param name="Unit">The unit; null for a size.</param>
/// <param name="Record">Id of the record that its value is from; null for a size.</param>
/// <param name="Measured">The value as entered.</param>
/// <param name="Value">The value in the window's unit; null if it can't be converted.</param>
/// <param name="Fits">Whether it lies within the limits, the guard band taken off.</param>
/// <param name="Margin">How far it is inside the nearer limit, the guard band taken off; negative: outside; null if it can't be compared.</param>
/// <param name="StandardUncertainty">Of that margin (JCGM 100, 5.1.2, uncorrelated inputs); null if there is none.</param>
/// <param name="IsUncertaintyComplete">Whether the candidate and every input of that limit state their uncertainty.</param>
public sealed record FitCandidateView(
    string Name,
    UnitRef? Unit,
    Guid? Record,
    QuantityValue Measured,
    decimal? Value,
    bool Fits,
    decimal? Margin,
    double? StandardUncertainty,
    bool IsUncertaintyComplete);
