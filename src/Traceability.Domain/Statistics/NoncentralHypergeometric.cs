using MathNet.Numerics;

namespace Traceability.Domain.Statistics;

/// <summary>How many of the cases have a property, the margins of the table given, at an odds ratio.</summary>
/// <remarks>
/// Fisher's noncentral hypergeometric distribution: P(x) is proportional to C(cases, x) C(others, with − x) ψˣ. Source: R. A. Fisher,
/// The logic of inductive inference, J. R. Statist. Soc. 98 (1935); A. Agresti, Categorical Data Analysis, section 3.5 (from memory).
/// </remarks>
internal sealed class NoncentralHypergeometric
{
    private readonly double[] _central;

    /// <summary>The distribution for these margins.</summary>
    public NoncentralHypergeometric(int cases, int others, int with)
    {
        Least = Math.Max(0, with - others);
        Most = Math.Min(with, cases);
        _central = new double[Most - Least + 1];
        for (var x = Least; x <= Most; x++)
        {
            _central[x - Least] = SpecialFunctions.BinomialLn(cases, x) + SpecialFunctions.BinomialLn(others, with - x);
        }
    }

    /// <summary>The least possible count.</summary>
    public int Least { get; }

    /// <summary>The greatest possible count.</summary>
    public int Most { get; }

    /// <summary>The probabilities of the counts from <see cref="Least"/> on.</summary>
    /// <param name="logOddsRatio">Natural logarithm of the odds ratio; 0: the plain hypergeometric distribution.</param>
    public double[] At(double logOddsRatio)
    {
        var weights = new double[_central.Length];
        var highest = double.NegativeInfinity;
        for (var i = 0; i < weights.Length; i++)
        {
            weights[i] = _central[i] + ((Least + i) * logOddsRatio);
            highest = Math.Max(highest, weights[i]);
        }

        var sum = 0.0;
        for (var i = 0; i < weights.Length; i++)
        {
            weights[i] = Math.Exp(weights[i] - highest);
            sum += weights[i];
        }

        for (var i = 0; i < weights.Length; i++)
        {
            weights[i] /= sum;
        }

        return weights;
    }

    /// <summary>The mean count at an odds ratio.</summary>
    public double MeanAt(double logOddsRatio)
    {
        var mean = 0.0;
        var probabilities = At(logOddsRatio);
        for (var i = 0; i < probabilities.Length; i++)
        {
            mean += (Least + i) * probabilities[i];
        }

        return mean;
    }

    /// <summary>The probability of a count or more.</summary>
    public double AtLeast(int count, double logOddsRatio) => Sum(At(logOddsRatio), Math.Max(count, Least), Most);

    /// <summary>The probability of a count or less.</summary>
    public double AtMost(int count, double logOddsRatio) => Sum(At(logOddsRatio), Least, Math.Min(count, Most));

    private double Sum(double[] probabilities, int from, int to)
    {
        var sum = 0.0;
        for (var x = from; x <= to; x++)
        {
            sum += probabilities[x - Least];
        }

        return sum;
    }
}
