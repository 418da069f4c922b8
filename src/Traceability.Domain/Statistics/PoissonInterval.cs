using System.Runtime.CompilerServices;
using MathNet.Numerics.Distributions;

namespace Traceability.Domain.Statistics;

/// <summary>The exact confidence interval for the mean of a count.</summary>
public static class PoissonInterval
{
    // A quantile takes some microseconds and an answer has hundreds of them, mostly of small counts, so those are kept.
    private static readonly StrongBox<ConfidenceInterval>?[] Kept = new StrongBox<ConfidenceInterval>?[2048];

    /// <summary>The exact (Garwood) interval for the mean of a Poisson variable that was seen as <paramref name="count"/>.</summary>
    /// <param name="count">The count seen; 0 or more.</param>
    /// <param name="confidence">Two-sided confidence; 0.95 unless told.</param>
    /// <exception cref="ArgumentOutOfRangeException">The count is negative, or the confidence is not inside 0 and 1.</exception>
    /// <remarks>
    /// Source: Garwood, Biometrika 28, 1936: lower χ²(α/2; 2x)/2, upper χ²(1 − α/2; 2x + 2)/2, written here as quantiles
    /// of the gamma distribution with shape x and x + 1. Checked against R's poisson.test.
    /// </remarks>
    public static ConfidenceInterval Exact(long count, double confidence = ConfidenceInterval.DefaultConfidence)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(count);
        ConfidenceInterval.RequireConfidence(confidence);
        if (count >= Kept.Length || !confidence.Equals(ConfidenceInterval.DefaultConfidence))
        {
            return Compute(count, confidence);
        }

        if (Volatile.Read(ref Kept[count]) is { } kept)
        {
            return kept.Value;
        }

        var computed = Compute(count, confidence);
        Volatile.Write(ref Kept[count], new(computed));
        return computed;
    }

    private static ConfidenceInterval Compute(long count, double confidence)
    {
        var tail = (1 - confidence) / 2;
        return new ConfidenceInterval(count == 0 ? 0 : Gamma.InvCDF(count, 1, tail), Gamma.InvCDF(count + 1.0, 1, 1 - tail));
    }
}
