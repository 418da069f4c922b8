using MathNet.Numerics.Distributions;

namespace Traceability.Domain.Statistics;

/// <summary>Quantiles of the standard normal distribution.</summary>
public static class NormalDistribution
{
    /// <summary>The value below which the share <paramref name="probability"/> of a standard normal variable lies.</summary>
    /// <param name="probability">Between 0 and 1, both excluded.</param>
    /// <remarks>Source: MathNet.Numerics; checked against published tables (NIST handbook, section 1.3.6.7.1).</remarks>
    public static double Quantile(double probability)
    {
        if (!(probability > 0 && probability < 1))
        {
            throw new ArgumentOutOfRangeException(nameof(probability), probability, "A probability lies between 0 and 1, both excluded.");
        }

        return Normal.InvCDF(0, 1, probability);
    }

    /// <summary>The factor z of a two-sided interval: 1.959964 for 95 %.</summary>
    /// <param name="confidence">Between 0 and 1, both excluded.</param>
    public static double TwoSidedFactor(double confidence)
    {
        ConfidenceInterval.RequireConfidence(confidence);
        return Quantile(1 - ((1 - confidence) / 2));
    }
}
