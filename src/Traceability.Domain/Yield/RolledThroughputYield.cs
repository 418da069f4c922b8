using Traceability.Domain.Statistics;

namespace Traceability.Domain.Yield;

/// <summary>The product of the first-pass yields of a routing's steps, with every factor's counts.</summary>
/// <remarks>
/// <para>
/// Source: ISO 13053-1 (rolled throughput yield). Undefined while any step is: a step that nothing went through
/// says nothing about the routing.
/// </para>
/// <para>
/// The interval is approximate. It adds, on the log scale, each factor's distance to its own Wilson limits in
/// quadrature (the "method of variance estimates recovery": Zou, Huang and Zhang, Computational Statistics and Data
/// Analysis 53, 2009; Zou and Donner, Statistics in Medicine 27, 2008). With one step it is that step's Wilson
/// interval. It takes the steps as independent. If a step's yield is zero the lower limit is zero, and the
/// upper limit is the least upper limit of any step, since a product of shares exceeds none of them.
/// </para>
/// </remarks>
public sealed record RolledThroughputYield
{
    private RolledThroughputYield(ImmutableArray<Proportion> steps, double? estimate, ConfidenceInterval? interval)
    {
        Steps = steps;
        Estimate = estimate;
        Interval = interval;
    }

    /// <summary>The first-pass yield of each step, in the order given.</summary>
    public ImmutableArray<Proportion> Steps { get; }

    /// <summary>The product; null if there is no step, or one is undefined.</summary>
    public double? Estimate { get; }

    /// <summary>An approximate 95 % interval; null if the estimate is.</summary>
    public ConfidenceInterval? Interval { get; }

    /// <summary>Rolls up the yields of a routing's steps.</summary>
    /// <param name="steps">One first-pass yield for each step.</param>
    public static RolledThroughputYield Of(IEnumerable<Proportion> steps)
    {
        ImmutableArray<Proportion> factors = [.. steps];
        if (factors.IsEmpty || factors.Any(factor => !factor.IsDefined))
        {
            return new(factors, null, null);
        }

        var estimate = factors.Aggregate(1.0, (product, factor) => product * factor.Estimate!.Value);
        return new(factors, estimate, IntervalOf(factors, estimate));
    }

    /// <summary>Equal when the steps are, in the same order.</summary>
    public bool Equals(RolledThroughputYield? other) => other is not null && Steps.AsSpan().SequenceEqual(other.Steps.AsSpan());

    /// <inheritdoc />
    public override int GetHashCode()
    {
        var hash = default(HashCode);
        foreach (var step in Steps)
        {
            hash.Add(step);
        }

        return hash.ToHashCode();
    }

    private static ConfidenceInterval IntervalOf(ImmutableArray<Proportion> factors, double estimate)
    {
        var below = 0.0;
        var above = 0.0;
        var least = 1.0;
        foreach (var factor in factors)
        {
            var wilson = factor.Interval!.Value;
            var share = factor.Estimate!.Value;
            least = Math.Min(least, wilson.Upper);
            below += Square(Math.Log(share / wilson.Lower));
            above += Square(Math.Log(wilson.Upper / share));
        }

        return estimate <= 0
            ? new ConfidenceInterval(0, least)
            : new ConfidenceInterval(estimate * Math.Exp(-Math.Sqrt(below)), Math.Min(1, estimate * Math.Exp(Math.Sqrt(above))));
    }

    private static double Square(double value) => value * value;
}
