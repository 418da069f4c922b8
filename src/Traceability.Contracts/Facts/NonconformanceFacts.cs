namespace Traceability.Contracts.Facts;

/// <summary>What is to become of a unit that does not conform.</summary>
public enum Disposition
{
    /// <summary>Named steps are done again, so that it conforms.</summary>
    Rework,

    /// <summary>Named steps are done again, so that it can be used though it may not conform.</summary>
    Repair,

    /// <summary>It is used as it is, under a concession.</summary>
    UseAsIs,

    /// <summary>It is scrapped: closed by a <see cref="UnitScrapped"/>.</summary>
    Scrap,

    /// <summary>It goes back to its supplier: closed by a <see cref="UnitShipped"/>.</summary>
    ReturnToSupplier,
}

/// <summary>A person saw that a unit does not conform. The id of this fact is the id of the nonconformance.</summary>
public sealed record NonconformanceReported : FactMessage
{
    /// <summary>The unit.</summary>
    public required UnitRef Unit { get; init; }

    /// <summary>The code of the step where it was seen or made, if that is known.</summary>
    public string? Step { get; init; }

    /// <summary>The defect code.</summary>
    public required string Defect { get; init; }

    /// <summary>What was seen, in words; 1 to 2,000 characters.</summary>
    public required string Description { get; init; }

    /// <summary>Photos and files that show it: the hashes that their upload answered; at most 20.</summary>
    public IReadOnlyList<string>? Attachments { get; init; }
}

/// <summary>A person began to decide about a nonconformance. From here on nothing but a disposition settles it.</summary>
public sealed record NonconformanceTakenUp : FactMessage
{
    /// <summary>The unit.</summary>
    public required UnitRef Unit { get; init; }

    /// <summary>The id of the nonconformance, as the list of nonconformances tells it.</summary>
    public required string Nonconformance { get; init; }

    /// <summary>Free text; at most 2,000 characters.</summary>
    public string? Note { get; init; }
}

/// <summary>A person who is qualified for DISPOSITION decided what is to become of the unit for a nonconformance. The last decision counts.</summary>
public sealed record NonconformanceDisposed : FactMessage
{
    /// <summary>The unit.</summary>
    public required UnitRef Unit { get; init; }

    /// <summary>The id of the nonconformance, as the list of nonconformances tells it.</summary>
    public required string Nonconformance { get; init; }

    /// <summary>What is to become of it.</summary>
    public required Disposition Disposition { get; init; }

    /// <summary>With rework and repair: codes of the steps that are to be done again, marked as rework.</summary>
    public IReadOnlyList<string>? Reopens { get; init; }

    /// <summary>With use-as-is: the limits of the permission.</summary>
    public Concession? Concession { get; init; }

    /// <summary>Why, in words; 1 to 2,000 characters.</summary>
    public required string Reason { get; init; }

    /// <summary>Photos and files that it rests on: the hashes that their upload answered; at most 20.</summary>
    public IReadOnlyList<string>? Attachments { get; init; }
}

/// <summary>The permission to use something that does not conform: on this unit, for this rule or defect, and until a time, or for a count, or both.</summary>
public sealed record Concession
{
    /// <summary>The number that it is filed under.</summary>
    public required string Number { get; init; }

    /// <summary>It covers what happened before this time.</summary>
    public DateTimeOffset? Until { get; init; }

    /// <summary>It covers this many nonconformances of the kind, the one that it was given for being the first.</summary>
    public int? CountMax { get; init; }
}
