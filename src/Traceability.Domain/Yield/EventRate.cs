using System.Globalization;
using System.Runtime.InteropServices;
using Traceability.Domain.Statistics;

namespace Traceability.Domain.Yield;

/// <summary>Events per unit or per opportunity, where one unit may have several: a count, its exposure, and an exact Poisson 95 % interval.</summary>
/// <param name="Count">How many events; 0 or more.</param>
/// <param name="Exposure">How many units or opportunities they happened in; 0 or more.</param>
/// <param name="Scale">What the rate is stated per: 1 for "per unit", 1,000,000 for "per million".</param>
/// <remarks>
/// A zero exposure is undefined, not zero. The interval takes events as independent (Poisson); defects that come
/// in clusters vary more than it says. Source: Garwood, Biometrika 28, 1936.
/// </remarks>
[StructLayout(LayoutKind.Auto)]
public readonly record struct EventRate(long Count, long Exposure, double Scale = 1)
{
    /// <summary>How many events.</summary>
    public long Count { get; } = Count < 0 || Exposure < 0 || (Exposure == 0 && Count > 0)
        ? throw new ArgumentOutOfRangeException(nameof(Count), Count, "A rate counts events, none or more, in an exposure that is not negative; none in no exposure.")
        : Count;

    /// <summary>How many units or opportunities.</summary>
    public long Exposure { get; } = Exposure;

    /// <summary>Whether there was anything in which an event could happen.</summary>
    public bool IsDefined => Exposure > 0;

    /// <summary>Events per exposure, times the scale; null if undefined.</summary>
    public double? Estimate => IsDefined ? Scale * Count / Exposure : null;

    /// <summary>The exact Poisson 95 % interval of the estimate; null if undefined.</summary>
    public ConfidenceInterval? Interval
    {
        get
        {
            if (!IsDefined)
            {
                return null;
            }

            var mean = PoissonInterval.Exact(Count);
            return new ConfidenceInterval(Scale * mean.Lower / Exposure, Scale * mean.Upper / Exposure);
        }
    }

    /// <summary>The counts, and the estimate if there is one.</summary>
    public override string ToString() =>
        string.Create(CultureInfo.InvariantCulture, $"{Count} in {Exposure} ({(IsDefined ? Estimate : "undefined")})");
}
