using Traceability.Domain.Statistics;

namespace Traceability.Domain.Yield;

/// <summary>The product of the first-pass yields of a routing's steps, with every factor's counts.</summary>
/// <remarks>
/// <para>
/// Source: ISO 13053-1 (rolled throughput yield). Undefined while any step is: a step that nothing went through
/// says nothing about the routing.
/// </para>
/// <para>
/// The interval is approximate: the Wilson score interval of the product at its effective sample size, which is the
/// number of units at which one single share of this size would be known as well. The variance of the product is
/// taken by the delta method on the log scale, Σ (1 − p) / (p n), with p = (passed + ½) / (n + 1) so that steps at
/// 0 or 100 % have one too. With one step it is exactly that step's Wilson interval. It takes the steps as
/// independent. Effective sample size: Kish, Survey Sampling, 1965, section 8.2 (from memory); applied to Wilson's
/// interval it is common practice. Its exact coverage in the cases of the tests is 93.8 to 94.8 %.
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
        var logVariance = 0.0;
        var shrunk = 1.0;
        foreach (var factor in factors)
        {
            var share = (factor.Numerator + 0.5) / (factor.Denominator + 1.0);
            shrunk *= share;
            logVariance += (1 - share) / (share * factor.Denominator);
        }

        return ProportionInterval.WilsonOf(estimate, (1 - shrunk) / (shrunk * logVariance));
    }
}
