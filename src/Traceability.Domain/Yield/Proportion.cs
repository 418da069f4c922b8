using System.Globalization;
using System.Runtime.InteropServices;
using Traceability.Domain.Statistics;

namespace Traceability.Domain.Yield;

/// <summary>A share that is never shown bare: its counts, and a Wilson 95 % interval.</summary>
/// <param name="Numerator">How many; 0 to <paramref name="Denominator"/>.</param>
/// <param name="Denominator">Out of how many; 0 or more.</param>
/// <remarks>
/// A zero denominator is undefined, not zero: <see cref="Estimate"/> and the limits are then null.
/// A <c>default</c> is 0 of 0, undefined. Source of the rule: ISO 22400-2; of the interval:
/// NIST/SEMATECH e-Handbook, section 7.2.4.1.
/// </remarks>
[StructLayout(LayoutKind.Auto)]
public readonly record struct Proportion(long Numerator, long Denominator)
{
    /// <summary>How many.</summary>
    public long Numerator { get; } = Denominator < 0 || Numerator < 0 || Numerator > Denominator
        ? throw new ArgumentOutOfRangeException(nameof(Numerator), Numerator, "A proportion counts 0 to all of a denominator that is not negative.")
        : Numerator;

    /// <summary>Out of how many.</summary>
    public long Denominator { get; } = Denominator;

    /// <summary>Whether there was anything to take a share of.</summary>
    public bool IsDefined => Denominator > 0;

    /// <summary>The share, 0 to 1; null if undefined.</summary>
    public double? Estimate => IsDefined ? (double)Numerator / Denominator : null;

    /// <summary>The Wilson 95 % interval; null if undefined.</summary>
    public ConfidenceInterval? Interval => ProportionInterval.Wilson(Numerator, Denominator);

    /// <summary>The lower end of <see cref="Interval"/>; null if undefined.</summary>
    public double? Lower => Interval?.Lower;

    /// <summary>The upper end of <see cref="Interval"/>; null if undefined.</summary>
    public double? Upper => Interval?.Upper;

    /// <summary>The counts, and the estimate if there is one.</summary>
    public override string ToString() =>
        string.Create(CultureInfo.InvariantCulture, $"{Numerator} of {Denominator} ({(IsDefined ? Estimate : "undefined")})");
}
