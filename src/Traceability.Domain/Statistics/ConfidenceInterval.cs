using System.Globalization;
using System.Runtime.InteropServices;

namespace Traceability.Domain.Statistics;

/// <summary>A two-sided confidence interval.</summary>
/// <param name="Lower">The lower limit.</param>
/// <param name="Upper">The upper limit.</param>
[StructLayout(LayoutKind.Auto)]
public readonly record struct ConfidenceInterval(double Lower, double Upper)
{
    /// <summary>The confidence that this service states beside every proportion and rate: 95 %.</summary>
    public const double DefaultConfidence = 0.95;

    /// <summary>Whether a value lies in the interval, its ends included.</summary>
    public bool Contains(double value) => value >= Lower && value <= Upper;

    /// <summary>The limits in brackets, with a point as the decimal mark.</summary>
    public override string ToString() => string.Create(CultureInfo.InvariantCulture, $"[{Lower}, {Upper}]");

    internal static void RequireConfidence(double confidence)
    {
        if (!(confidence > 0 && confidence < 1))
        {
            throw new ArgumentOutOfRangeException(nameof(confidence), confidence, "A confidence lies between 0 and 1, both excluded.");
        }
    }
}
