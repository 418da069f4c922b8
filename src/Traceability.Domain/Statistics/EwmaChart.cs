namespace Traceability.Domain.Statistics;

/// <summary>A chart of exponentially weighted moving averages: it shows a slow drift that single values hide.</summary>
/// <param name="Centre">Where the average starts.</param>
/// <param name="Lower">The lower limit.</param>
/// <param name="Upper">The upper limit.</param>
/// <param name="Averages">The average after each value.</param>
/// <remarks>
/// z(i) = λ·x(i) + (1 − λ)·z(i − 1), limits centre ± 3·σ·√(λ/(2 − λ)), the ones for many values. Source: NIST/SEMATECH e-Handbook of
/// Statistical Methods, 6.3.2.4.
/// </remarks>
public sealed record EwmaChart(double Centre, double Lower, double Upper, ImmutableArray<double> Averages)
{
    /// <summary>The weight of the newest value: the handbook's example.</summary>
    public const double DefaultWeight = 0.3;

    /// <summary>The chart of these values.</summary>
    /// <param name="values">The values, in their order.</param>
    /// <param name="centre">Where the average starts.</param>
    /// <param name="sigma">The standard deviation of a value; 0 or more.</param>
    /// <param name="weight">The weight of the newest value, over 0 and at most 1.</param>
    /// <exception cref="ArgumentOutOfRangeException">The weight or the deviation is out of its range.</exception>
    public static EwmaChart Of(ReadOnlySpan<double> values, double centre, double sigma, double weight = DefaultWeight)
    {
        if (!(weight is > 0 and <= 1))
        {
            throw new ArgumentOutOfRangeException(nameof(weight), weight, "A weight lies over 0 and is at most 1.");
        }

        if (!(sigma >= 0))
        {
            throw new ArgumentOutOfRangeException(nameof(sigma), sigma, "A standard deviation is not negative.");
        }

        var averages = ImmutableArray.CreateBuilder<double>(values.Length);
        var average = centre;
        foreach (var value in values)
        {
            average = (weight * value) + ((1 - weight) * average);
            averages.Add(average);
        }

        var half = 3 * sigma * Math.Sqrt(weight / (2 - weight));
        return new(centre, centre - half, centre + half, averages.MoveToImmutable());
    }
}
