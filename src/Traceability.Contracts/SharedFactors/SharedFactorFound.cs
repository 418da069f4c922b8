using System.Text.Json.Serialization;

namespace Traceability.Contracts.SharedFactors;

/// <summary>What failed units share more than a comparison does. A search for suspects: a factor found here is not yet shown to be the cause.</summary>
/// <param name="AsOf">The moment of asking.</param>
/// <param name="Failed">How many failed units were looked at.</param>
/// <param name="Compared">How many units they were compared with.</param>
/// <param name="Comparison">How those were chosen; null where no unit failed.</param>
/// <param name="Tried">How many factors were tried; the adjustment counts every one.</param>
/// <param name="ErrorRate">The error rate that was asked for.</param>
/// <param name="Groups">The factors, at most 200 groups: those first that the failed units have more often, then the rarest by chance.</param>
/// <param name="Power">What a search of this size can find.</param>
/// <param name="Completeness">What may be missing from the answer.</param>
/// <param name="Remarks">What a reader must know of the answer, in words; empty if nothing.</param>
public sealed record SharedFactorFound(
    DateTimeOffset AsOf,
    int Failed,
    int Compared,
    ComparisonRule? Comparison,
    int Tried,
    double ErrorRate,
    IReadOnlyList<SharedFactorGroup> Groups,
    SharedFactorPower Power,
    Completeness Completeness,
    IReadOnlyList<string> Remarks);

/// <summary>How the comparison was chosen: units of the same items that ended without being scrapped and are not among the failed.</summary>
/// <param name="Items">The items.</param>
/// <param name="OpenedFrom">Opened from here on.</param>
/// <param name="OpenedTo">Opened before this.</param>
/// <param name="Fitting">How many units fit; where there are more than are compared, those were picked by a fixed scramble of their names.</param>
public sealed record ComparisonRule(IReadOnlyList<string> Items, DateTimeOffset OpenedFrom, DateTimeOffset OpenedTo, int Fitting);

/// <summary>Factors that the same units have: no record tells which of them is behind a failure.</summary>
/// <param name="Factors">The factors; one where nothing is confounded with it.</param>
/// <param name="FailedWith">Failed units that have it,</param>
/// <param name="FailedKnown">of those where it is known.</param>
/// <param name="ComparedWith">Compared units that have it,</param>
/// <param name="ComparedKnown">of those where it is known.</param>
/// <param name="P">Fisher's exact test, two-sided.</param>
/// <param name="Adjusted">P adjusted for all factors tried (Benjamini and Hochberg).</param>
/// <param name="IsSignificant">Whether the adjusted value is at most the error rate, and the failed units have it more often.</param>
/// <param name="OddsRatio">The conditional maximum likelihood estimate; null where nothing varies or no finite one exists.</param>
/// <param name="Lower">Lower end of its exact 95 % interval; null where nothing varies.</param>
/// <param name="Upper">Upper end; null where nothing varies or there is none.</param>
public sealed record SharedFactorGroup(
    IReadOnlyList<SharedFactor> Factors,
    int FailedWith,
    int FailedKnown,
    int ComparedWith,
    int ComparedKnown,
    double P,
    double Adjusted,
    bool IsSignificant,
    [property: JsonIgnore(Condition = JsonIgnoreCondition.Never)] double? OddsRatio,
    [property: JsonIgnore(Condition = JsonIgnoreCondition.Never)] double? Lower,
    [property: JsonIgnore(Condition = JsonIgnoreCondition.Never)] double? Upper);

/// <summary>Something that units have in common.</summary>
/// <param name="Kind">lot, container, tool, station, person or revision.</param>
/// <param name="Name">Which: item/lot, item/lot/container, a code, or item/revision.</param>
/// <param name="Where">For a tool, station or person: the item and step that it was at, item/step; else the item.</param>
public sealed record SharedFactor(string Kind, string Name, string Where);

/// <summary>What a search of this size can find.</summary>
/// <param name="LeastAdjusted">The least adjusted value that any single factor could have reached.</param>
/// <param name="ShareOfFailed">A cause is taken that this share of the failed units has,</param>
/// <param name="ShareOfCompared">and this share of the others.</param>
/// <param name="Chance">The chance that it alone would have been called significant among all that were tried.</param>
/// <param name="IsTooSmall">Whether that chance is below 0.8, so that finding nothing says little.</param>
public sealed record SharedFactorPower(double LeastAdjusted, double ShareOfFailed, double ShareOfCompared, double Chance, bool IsTooSmall);
