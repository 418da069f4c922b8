using MathNet.Numerics.Distributions;
using MathNet.Numerics.RootFinding;

namespace Traceability.Domain.Statistics;

/// <summary>Fisher's exact test of a two by two table, with the odds ratio and its interval.</summary>
/// <remarks>
/// Source: R. A. Fisher, The Design of Experiments (1935), chapter II. The two-sided p, the estimate and the interval are those that R's
/// fisher.test gives: p sums the tables that are no likelier than the one seen; the estimate is the conditional maximum likelihood
/// one, not the cross product; the interval inverts two one-sided tests of half the error each.
/// </remarks>
public static class FishersExactTest
{
    // Tables that differ in likelihood by less than this share count as equally likely, as in R: rounding must not decide.
    private const double Tie = 1 + 1e-7;

    // The logarithm of an odds ratio that no table of countable units tells from infinity.
    private const double LogFar = 500;

    /// <summary>The probability, were there no relation, of a table as unlikely as this one or more so.</summary>
    /// <returns>From 0 to 1; 1 where nothing varies.</returns>
    /// <exception cref="ArgumentOutOfRangeException">A count is negative.</exception>
    public static double TwoSided(TwoByTwo table)
    {
        Require(table);
        if (!table.Varies)
        {
            return 1;
        }

        var distribution = new NoncentralHypergeometric(table.Cases, table.Others, table.With);
        return TwoSided(distribution.At(0), table.CasesWith - distribution.Least);
    }

    /// <summary>The probability, were there no relation, of so many cases with it or more.</summary>
    /// <exception cref="ArgumentOutOfRangeException">A count is negative.</exception>
    public static double Greater(TwoByTwo table)
    {
        Require(table);
        return Math.Min(1, new NoncentralHypergeometric(table.Cases, table.Others, table.With).AtLeast(table.CasesWith, 0));
    }

    /// <summary>The probability, were there no relation, of so many cases with it or fewer.</summary>
    /// <exception cref="ArgumentOutOfRangeException">A count is negative.</exception>
    public static double Less(TwoByTwo table)
    {
        Require(table);
        return Math.Min(1, new NoncentralHypergeometric(table.Cases, table.Others, table.With).AtMost(table.CasesWith, 0));
    }

    /// <summary>The conditional maximum likelihood estimate of the odds ratio.</summary>
    /// <returns>0 or more; infinite where every one that had it was a case as far as the margins allow; null where nothing varies.</returns>
    /// <exception cref="ArgumentOutOfRangeException">A count is negative.</exception>
    public static double? OddsRatio(TwoByTwo table)
    {
        Require(table);
        if (!table.Varies)
        {
            return null;
        }

        var distribution = new NoncentralHypergeometric(table.Cases, table.Others, table.With);
        return table.CasesWith == distribution.Least ? 0
            : table.CasesWith == distribution.Most ? double.PositiveInfinity
            : Math.Exp(Solve(log => distribution.MeanAt(log) - table.CasesWith));
    }

    /// <summary>The exact interval of the odds ratio.</summary>
    /// <param name="table">The table.</param>
    /// <param name="confidence">Two-sided confidence; 0.95 unless told.</param>
    /// <returns>From 0 to infinity; null where nothing varies.</returns>
    /// <exception cref="ArgumentOutOfRangeException">A count is negative, or the confidence is not inside 0 and 1.</exception>
    public static ConfidenceInterval? Interval(TwoByTwo table, double confidence = ConfidenceInterval.DefaultConfidence)
    {
        Require(table);
        ConfidenceInterval.RequireConfidence(confidence);
        if (!table.Varies)
        {
            return null;
        }

        var distribution = new NoncentralHypergeometric(table.Cases, table.Others, table.With);
        var tail = (1 - confidence) / 2;
        var lower = table.CasesWith == distribution.Least ? 0 : Math.Exp(Solve(log => distribution.AtLeast(table.CasesWith, log) - tail));
        var upper = table.CasesWith == distribution.Most
            ? double.PositiveInfinity
            : Math.Exp(Solve(log => tail - distribution.AtMost(table.CasesWith, log)));
        return new ConfidenceInterval(lower, upper);
    }

    /// <summary>The chance that the test finds a relation: that its two-sided p is at most the level.</summary>
    /// <param name="cases">The number of cases; 1 or more.</param>
    /// <param name="others">The size of the comparison; 1 or more.</param>
    /// <param name="shareOfCases">The true share of cases that have it; 0 to 1.</param>
    /// <param name="shareOfOthers">The true share of others that have it; 0 to 1.</param>
    /// <param name="level">The level of p; inside 0 and 1.</param>
    /// <returns>From 0 to 1: the sum, over all tables, of the two binomial probabilities where the test rejects.</returns>
    /// <exception cref="ArgumentOutOfRangeException">A number is out of its range.</exception>
    /// <remarks>Source: the definition of power under two independent binomial samples; A. Agresti, Categorical Data Analysis, section 3.5 (from memory).</remarks>
    public static double Power(int cases, int others, double shareOfCases, double shareOfOthers, double level)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(cases, 1);
        ArgumentOutOfRangeException.ThrowIfLessThan(others, 1);
        RequireShare(shareOfCases, nameof(shareOfCases));
        RequireShare(shareOfOthers, nameof(shareOfOthers));
        ConfidenceInterval.RequireConfidence(level);
        var power = 0.0;
        for (var with = 1; with < cases + others; with++)
        {
            var distribution = new NoncentralHypergeometric(cases, others, with);
            var probabilities = distribution.At(0);
            for (var x = distribution.Least; x <= distribution.Most; x++)
            {
                if (TwoSided(probabilities, x - distribution.Least) <= level)
                {
                    power += Binomial.PMF(shareOfCases, cases, x) * Binomial.PMF(shareOfOthers, others, with - x);
                }
            }
        }

        return Math.Min(1, power);
    }

    private static double TwoSided(double[] probabilities, int seen)
    {
        var most = probabilities[seen] * Tie;
        var sum = 0.0;
        foreach (var probability in probabilities)
        {
            if (probability <= most)
            {
                sum += probability;
            }
        }

        return Math.Min(1, sum);
    }

    // The functions that are solved rise with the odds ratio.
    private static double Solve(Func<double, double> rising) => Brent.FindRoot(rising, -LogFar, LogFar, 1e-12, 500);

    private static void Require(TwoByTwo table) =>
        ArgumentOutOfRangeException.ThrowIfNegative(
            Math.Min(Math.Min(table.CasesWith, table.CasesWithout), Math.Min(table.OthersWith, table.OthersWithout)), nameof(table));

    private static void RequireShare(double share, string name)
    {
        if (!(share >= 0 && share <= 1))
        {
            throw new ArgumentOutOfRangeException(name, share, "A share is a number from 0 to 1.");
        }
    }
}
