using Traceability.Contracts.Facts;

namespace Traceability.Contracts.SharedFactors;

/// <summary>Asks what failed units share more than chance allows. Say which failed by Units or by Failure, one of the two.</summary>
public sealed record SharedFactorQuestion
{
    /// <summary>The failed units, 1 to 1,000, each once.</summary>
    public IReadOnlyList<UnitRef>? Units { get; init; }

    /// <summary>The failed units, by what was found on them.</summary>
    public FailureChoice? Failure { get; init; }

    /// <summary>Compared with units opened from here on; null: from 14 days before the first failed unit was opened.</summary>
    public DateTimeOffset? ComparedFrom { get; init; }

    /// <summary>Compared with units opened before this; null: until 14 days after the last failed unit was opened.</summary>
    public DateTimeOffset? ComparedTo { get; init; }

    /// <summary>The expected share of false ones among the factors called significant, above 0 and at most 0.5; null: 0.05.</summary>
    public decimal? ErrorRate { get; init; }

    /// <summary>What to try: lot, container, tool, station, person, revision; null: all of them.</summary>
    public IReadOnlyList<string>? Kinds { get; init; }
}

/// <summary>Failed units, by findings that count as defects.</summary>
public sealed record FailureChoice
{
    /// <summary>The item that the units are of.</summary>
    public required string Item { get; init; }

    /// <summary>Only findings of this kind; null: of any.</summary>
    public string? Kind { get; init; }

    /// <summary>Only findings at this step; null: at any.</summary>
    public string? Step { get; init; }

    /// <summary>Only findings on this rule: a characteristic, requirement, position, interval or defect code; null: on any.</summary>
    public string? Rule { get; init; }

    /// <summary>Only findings from this moment on.</summary>
    public DateTimeOffset? From { get; init; }

    /// <summary>Only findings before this moment.</summary>
    public DateTimeOffset? To { get; init; }
}
