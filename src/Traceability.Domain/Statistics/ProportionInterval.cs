using MathNet.Numerics.Distributions;

namespace Traceability.Domain.Statistics;

/// <summary>Confidence intervals for a proportion: <c>count</c> of <c>total</c>.</summary>
/// <remarks>Every method gives null for a total of zero: nothing was seen, so nothing can be said, which is not the same as zero.</remarks>
public static class ProportionInterval
{
    private const double DefaultFactor = 1.9599639845400545;

    /// <summary>The Wilson score interval, without continuity correction.</summary>
    /// <param name="count">How many had the property; 0 to <paramref name="total"/>.</param>
    /// <param name="total">How many were looked at; 0 or more.</param>
    /// <param name="confidence">Two-sided confidence; 0.95 unless told.</param>
    /// <returns>The interval, within 0 and 1; null if the total is zero.</returns>
    /// <exception cref="ArgumentOutOfRangeException">A count is negative or above the total, or the confidence is not inside 0 and 1.</exception>
    /// <remarks>
    /// Source: NIST/SEMATECH e-Handbook of Statistical Methods, section 7.2.4.1 (Wilson, 1927). The lower limit is
    /// written so that no digits cancel: 2x² / (n (2x + z² + z √(z² + 4x(1 − x/n)))), which is the handbook's
    /// formula multiplied by its conjugate; the upper limit is the complement of the lower one of the complement.
    /// </remarks>
    public static ConfidenceInterval? Wilson(long count, long total, double confidence = ConfidenceInterval.DefaultConfidence)
    {
        Require(count, total, confidence);
        if (total == 0)
        {
            return null;
        }

        var z = confidence.Equals(ConfidenceInterval.DefaultConfidence) ? DefaultFactor : NormalDistribution.TwoSidedFactor(confidence);
        return new ConfidenceInterval(WilsonLower(count, total, z), 1 - WilsonLower(total - count, total, z));
    }

    /// <summary>The exact interval from the binomial distribution (Clopper and Pearson); at least as wide as its confidence asks.</summary>
    /// <param name="count">How many had the property; 0 to <paramref name="total"/>.</param>
    /// <param name="total">How many were looked at; 0 or more.</param>
    /// <param name="confidence">Two-sided confidence; 0.95 unless told.</param>
    /// <returns>The interval, within 0 and 1; null if the total is zero.</returns>
    /// <exception cref="ArgumentOutOfRangeException">A count is negative or above the total, or the confidence is not inside 0 and 1.</exception>
    /// <remarks>
    /// Source: NIST/SEMATECH e-Handbook, section 7.2.4.1 (exact intervals for small samples), solved by quantiles of
    /// the beta distribution: lower B(α/2; x, n − x + 1), upper B(1 − α/2; x + 1, n − x).
    /// </remarks>
    public static ConfidenceInterval? ClopperPearson(long count, long total, double confidence = ConfidenceInterval.DefaultConfidence)
    {
        Require(count, total, confidence);
        if (total == 0)
        {
            return null;
        }

        var tail = (1 - confidence) / 2;
        return new ConfidenceInterval(ExactLower(count, total, tail), 1 - ExactLower(total - count, total, tail));
    }

    /// <summary>The Wilson 95 % interval of a share at a sample size that need not be whole.</summary>
    internal static ConfidenceInterval WilsonOf(double share, double size) =>
        new(WilsonLower(share * size, size, DefaultFactor), 1 - WilsonLower((1 - share) * size, size, DefaultFactor));

    private static double WilsonLower(double x, double n, double z) =>
        2 * x * x / (n * ((2 * x) + (z * z) + (z * Math.Sqrt((z * z) + (4 * x * (1 - (x / n)))))));

    private static double ExactLower(long count, long total, double tail)
    {
        if (count == 0)
        {
            return 0;
        }

        // All of them: the beta distribution with second parameter 1 has a closed form.
        return count == total ? Math.Pow(tail, 1.0 / total) : BetaQuantile(count, total - count + 1, tail);
    }

    // The library stops at an absolute error of 1e-14 or so, which is too coarse for a limit near zero; Newton's
    // steps from there on take it to full relative precision.
    private static double BetaQuantile(double a, double b, double probability)
    {
        var x = Beta.InvCDF(a, b, probability);
        for (var i = 0; i < 3; i++)
        {
            var density = Beta.PDF(a, b, x);
            var next = x - ((Beta.CDF(a, b, x) - probability) / density);
            if (!(next > 0 && next < 1))
            {
                break;
            }

            x = next;
        }

        return x;
    }

    private static void Require(long count, long total, double confidence)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(total);
        ArgumentOutOfRangeException.ThrowIfNegative(count);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(count, total);
        ConfidenceInterval.RequireConfidence(confidence);
    }
}
