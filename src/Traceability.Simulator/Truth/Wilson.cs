namespace Traceability.Simulator.Truth;

/// <summary>The Wilson score interval of a proportion.</summary>
/// <remarks>Source: E. B. Wilson, Journal of the American Statistical Association 22 (1927); NIST/SEMATECH e-Handbook, section 7.2.4.1.</remarks>
public static class Wilson
{
    // The 0.975 quantile of the standard normal distribution.
    private const double Z95 = 1.959963984540054;

    /// <summary>The 95 % interval for so many good ones of so many.</summary>
    public static (double Lower, double Upper) Interval(int good, int of) => Interval(good, of, Z95);

    /// <summary>The interval for a two-sided normal quantile.</summary>
    public static (double Lower, double Upper) Interval(int good, int of, double z)
    {
        double n = of;
        var share = good / n;
        var middle = (share + (z * z / (2 * n))) / (1 + (z * z / n));
        var half = z / (1 + (z * z / n)) * Math.Sqrt((share * (1 - share) / n) + (z * z / (4 * n * n)));
        return (Math.Max(0, middle - half), Math.Min(1, middle + half));
    }
}
