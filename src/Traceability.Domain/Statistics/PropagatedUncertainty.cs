namespace Traceability.Domain.Statistics;

/// <summary>The combined standard uncertainty of a value that is computed from others.</summary>
/// <remarks>Source: JCGM 100:2008 (GUM), 5.1.2, equation (10) with 5.1.3: uncorrelated inputs, first-order; exact for a linear combination.</remarks>
public static class PropagatedUncertainty
{
    /// <summary>The square root of the sum of the squares of sensitivity times standard uncertainty.</summary>
    /// <param name="contributions">For each input its sensitivity coefficient times its standard uncertainty, in the unit of the result. An input that enters twice is one contribution, its coefficients added first.</param>
    /// <returns>Zero for no input; never negative.</returns>
    public static double Combine(IEnumerable<double> contributions)
    {
        ArgumentNullException.ThrowIfNull(contributions);

        // Scaled by the largest, so that squaring neither overflows nor loses small ones altogether.
        var scale = 0d;
        var sum = 0d;
        foreach (var contribution in contributions)
        {
            var size = Math.Abs(contribution);
            if (size > scale)
            {
                sum = (sum * (scale / size) * (scale / size)) + 1;
                scale = size;
            }
            else if (size > 0)
            {
                sum += size / scale * (size / scale);
            }
        }

        return scale * Math.Sqrt(sum);
    }
}
