using Traceability.Domain.Primitives;

namespace Traceability.Domain.Statistics;

/// <summary>How a torque tool scatters on one test joint at one setting.</summary>
/// <param name="Joint">The test joint.</param>
/// <param name="Count">How many readings; at least two.</param>
/// <param name="Mean">The mean torque.</param>
/// <param name="StandardDeviation">The sample standard deviation s.</param>
/// <param name="DeviationInterval">Its 95 % confidence interval, where the torques are normal.</param>
/// <param name="Scatter">The torque scatter, 6 s.</param>
/// <param name="ScatterShare">The scatter as a share of the mean; null where the mean is not positive.</param>
public sealed record JointFigures(
    Code Joint, int Count, double Mean, double StandardDeviation, ConfidenceInterval DeviationInterval, double Scatter, double? ScatterShare);

/// <summary>How a torque tool performs at one setting over the joints that it was tried on.</summary>
/// <param name="Joints">By joint, in the order of their codes.</param>
/// <param name="CombinedMean">The middle between the highest mean + 3 s and the lowest mean − 3 s of the joints.</param>
/// <param name="CombinedScatter">The distance between those two.</param>
/// <param name="CombinedShare">The combined scatter as a share of the combined mean; null where that is not positive.</param>
/// <param name="MeanShift">The difference between the highest and the lowest mean of the joints.</param>
/// <param name="MeanShiftShare">The shift as a share of the combined mean; null where that is not positive.</param>
/// <param name="IsFull">Whether it was tried on two joints at least, with 25 readings at least on each.</param>
/// <remarks>
/// In the manner of ISO 5393:2017, clause 5 (torque scatter by test joints of a high and a low torque rate). The formulas and the
/// number of 25 readings are from memory, since no copy of the standard's text was at hand: the service states the readings and
/// figures, and makes no claim that a test fulfilled the standard. Combining over more than two joints is the same formula,
/// common practice, no source.
/// </remarks>
public sealed record TorqueCapability(
    ImmutableArray<JointFigures> Joints,
    double CombinedMean,
    double CombinedScatter,
    double? CombinedShare,
    double MeanShift,
    double? MeanShiftShare,
    bool IsFull)
{
    /// <summary>Readings on each joint of a full test.</summary>
    public const int ReadingsOfFullTest = 25;

    /// <summary>The figures; null if no joint has two readings.</summary>
    /// <param name="series">The readings on each joint, in one unit; a joint with fewer than two is left out.</param>
    public static TorqueCapability? Of(IEnumerable<KeyValuePair<Code, ImmutableArray<double>>> series)
    {
        ArgumentNullException.ThrowIfNull(series);
        var joints = series
            .Where(s => s.Value.Length > 1)
            .OrderBy(s => s.Key.Value, StringComparer.Ordinal)
            .Select(s => Of(s.Key, SampleFigures.Of(s.Value.AsSpan())))
            .ToImmutableArray();
        if (joints.IsEmpty)
        {
            return null;
        }

        var highest = joints.Max(j => j.Mean + (j.Scatter / 2));
        var lowest = joints.Min(j => j.Mean - (j.Scatter / 2));
        var middle = (highest + lowest) / 2;
        var shift = joints.Max(j => j.Mean) - joints.Min(j => j.Mean);
        return new(
            joints,
            middle,
            highest - lowest,
            Share(highest - lowest, middle),
            shift,
            Share(shift, middle),
            joints.Length > 1 && joints.All(j => j.Count >= ReadingsOfFullTest));
    }

    private static JointFigures Of(Code joint, SampleFigures sample)
    {
        var s = sample.StandardDeviation!.Value;
        return new(joint, sample.Count, sample.Mean, s, sample.DeviationInterval()!.Value, 6 * s, Share(6 * s, sample.Mean));
    }

    private static double? Share(double part, double whole) => whole > 0 ? part / whole : null;
}
