using System.Runtime.InteropServices;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Cure;

/// <summary>A temperature at a moment.</summary>
/// <param name="At">The moment in UTC, corrected by the clock's measured offset.</param>
/// <param name="Kelvin">The temperature.</param>
/// <param name="Entered">As it was read.</param>
[StructLayout(LayoutKind.Auto)]
public readonly record struct TemperaturePoint(DateTimeOffset At, double Kelvin, EnteredQuantity Entered);

/// <summary>What was read at one place on one day.</summary>
/// <param name="Points">By time, one for a moment.</param>
public sealed record TemperatureDay(ImmutableArray<TemperaturePoint> Points)
{
    /// <summary>Folds the facts of one place and day. Of two readings of one moment the colder one counts.</summary>
    /// <remarks>A reading that is no temperature is passed over, and so earns nothing.</remarks>
    public static TemperatureDay Of(ImmutableArray<RecordedFact> facts)
    {
        var points = new SortedDictionary<long, TemperaturePoint>();
        foreach (var fact in EffectiveFacts.Of(facts))
        {
            if (fact is not { IsVoided: false, Fact: TemperatureRecorded recorded })
            {
                continue;
            }

            foreach (var reading in recorded.Readings.OrEmpty())
            {
                if (reading is not null && Temperatures.TryKelvin(reading.Temperature, out var kelvin))
                {
                    var at = Instant.Shift(reading.At, recorded.Clock.Offset).ToUniversalTime();
                    if (!points.TryGetValue(at.UtcTicks, out var known) || kelvin < known.Kelvin)
                    {
                        points[at.UtcTicks] = new(at, kelvin, reading.Temperature);
                    }
                }
            }
        }

        return new([.. points.Values]);
    }
}
