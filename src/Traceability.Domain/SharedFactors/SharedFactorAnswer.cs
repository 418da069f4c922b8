using Traceability.Domain.Statistics;

namespace Traceability.Domain.SharedFactors;

/// <summary>What failed units have in common more than chance allows.</summary>
/// <param name="Cases">How many failed units were looked at.</param>
/// <param name="Others">How many units of the comparison.</param>
/// <param name="Tried">How many factors were tried: all that some unit has; the adjustment counts every one.</param>
/// <param name="Groups">The factors, those first that the failed units have more often, then the rarest by chance; those that no record tells apart are in one group.</param>
/// <param name="Power">What a search of this size can find.</param>
public sealed record SharedFactorAnswer(int Cases, int Others, int Tried, ImmutableArray<FactorGroup> Groups, SearchPower Power);

/// <summary>Factors that the same units have, so that no record can tell which of them is behind a failure.</summary>
/// <param name="Factors">The factors, by kind and name; one where nothing is confounded with it.</param>
/// <param name="Table">How many of the units have it; those where it isn't known are left out.</param>
/// <param name="CasesOpen">Failed units where it isn't known.</param>
/// <param name="OthersOpen">Units of the comparison where it isn't known.</param>
/// <param name="P">Fisher's exact test, two-sided.</param>
/// <param name="Adjusted">P adjusted for all factors tried (Benjamini and Hochberg).</param>
/// <param name="IsSignificant">Whether the adjusted value is at most the error rate that was asked for, and the failed units have it more often.</param>
public sealed record FactorGroup(
    ImmutableArray<FactorKey> Factors, TwoByTwo Table, int CasesOpen, int OthersOpen, double P, double Adjusted, bool IsSignificant)
{
    /// <summary>The odds ratio; null where nothing varies.</summary>
    public double? OddsRatio => FishersExactTest.OddsRatio(Table);

    /// <summary>Its exact 95 % interval.</summary>
    public ConfidenceInterval? Interval => FishersExactTest.Interval(Table);
}

/// <summary>What a search of this size can find.</summary>
/// <param name="LeastAdjusted">The least adjusted value that any single factor could have reached; above the error rate nothing could be found.</param>
/// <param name="ShareOfCases">A cause is taken that this share of the failed units has,</param>
/// <param name="ShareOfOthers">and this share of the others.</param>
/// <param name="Chance">The chance that it would have been called significant, alone among all factors tried.</param>
public sealed record SearchPower(double LeastAdjusted, double ShareOfCases, double ShareOfOthers, double Chance)
{
    /// <summary>Below this chance a search says little by finding nothing. Common practice, no source.</summary>
    public const double Enough = 0.8;

    /// <summary>Whether finding nothing says little.</summary>
    public bool IsTooSmall => Chance < Enough;
}
