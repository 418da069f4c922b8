namespace Traceability.Domain.Statistics;

/// <summary>The limits of a chart of single values and their moving ranges of two.</summary>
/// <param name="Centre">The mean of the values.</param>
/// <param name="MeanRange">The mean of the moving ranges.</param>
/// <param name="Sigma">The standard deviation that the ranges tell: their mean over d2.</param>
/// <param name="Lower">Centre − 3 sigma.</param>
/// <param name="Upper">Centre + 3 sigma.</param>
/// <param name="RangeUpper">The upper limit of the moving ranges, D4 times their mean.</param>
/// <remarks>
/// Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2; ISO 7870-2:2013, individuals chart (clause not at hand).
/// The constants are exact, not the tables' rounded ones.
/// </remarks>
public sealed record IndividualsChart(double Centre, double MeanRange, double Sigma, double Lower, double Upper, double RangeUpper)
{
    /// <summary>The mean range of two normal values in standard deviations: 2/√π, 1.128 in tables.</summary>
    public static readonly double D2 = 2 / Math.Sqrt(Math.PI);

    /// <summary>The upper limit of that range in mean ranges: 1 + 3·d3/d2 with d3 = √(2 − 4/π), 3.267 in tables.</summary>
    public static readonly double D4 = 1 + (3 * Math.Sqrt(2 - (4 / Math.PI)) / D2);

    /// <summary>The limits by these values, in their order; null for fewer than two.</summary>
    public static IndividualsChart? Of(ReadOnlySpan<double> values)
    {
        if (values.Length < 2)
        {
            return null;
        }

        var ranges = 0.0;
        for (var i = 1; i < values.Length; i++)
        {
            ranges += Math.Abs(values[i] - values[i - 1]);
        }

        var centre = SampleFigures.Of(values).Mean;
        var range = ranges / (values.Length - 1);
        var sigma = range / D2;
        return new(centre, range, sigma, centre - (3 * sigma), centre + (3 * sigma), D4 * range);
    }
}
