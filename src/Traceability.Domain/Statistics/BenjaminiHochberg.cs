namespace Traceability.Domain.Statistics;

/// <summary>Adjusts p values for how many were tried, so that among those called significant the expected share of false ones is bounded.</summary>
public static class BenjaminiHochberg
{
    /// <summary>The adjusted value of each p, in the same order.</summary>
    /// <param name="p">All p values that were tried; each from 0 to 1.</param>
    /// <returns>The least false discovery rate at which each would be called significant; from p to 1.</returns>
    /// <exception cref="ArgumentOutOfRangeException">A value is not from 0 to 1.</exception>
    /// <remarks>
    /// Source: Y. Benjamini and Y. Hochberg, Controlling the false discovery rate, J. R. Statist. Soc. B 57 (1995), in the form of R's
    /// p.adjust(method = "BH"): the least of p·m/rank over this and all greater ones.
    /// </remarks>
    public static ImmutableArray<double> Adjust(IReadOnlyList<double> p)
    {
        ArgumentNullException.ThrowIfNull(p);
        var order = new int[p.Count];
        for (var i = 0; i < order.Length; i++)
        {
            if (!(p[i] >= 0 && p[i] <= 1))
            {
                throw new ArgumentOutOfRangeException(nameof(p), p[i], "A p value is a number from 0 to 1.");
            }

            order[i] = i;
        }

        Array.Sort(order, (a, b) => p[b].CompareTo(p[a]));
        var adjusted = new double[order.Length];
        var least = 1.0;
        for (var i = 0; i < order.Length; i++)
        {
            var rank = order.Length - i;
            least = Math.Min(least, p[order[i]] * order.Length / rank);
            adjusted[order[i]] = least;
        }

        return [.. adjusted];
    }
}
