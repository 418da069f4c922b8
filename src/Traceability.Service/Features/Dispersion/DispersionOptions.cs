using System.ComponentModel.DataAnnotations;

namespace Traceability.Service.Features.Dispersion;

/// <summary>How often the spread of lots is counted. Bound from "Dispersion" and checked when the service starts.</summary>
public sealed class DispersionOptions
{
    /// <summary>Name of the configuration section.</summary>
    public const string SectionName = "Dispersion";

    /// <summary>Gets or sets how long to wait at least between counts; nothing is counted while nothing was recorded.</summary>
    /// <remarks>A count is followed by a wait of 19 times as long as it took, if that is longer: it never takes more than a twentieth of one core.</remarks>
    /// <value>Default 10 s; at least 100 ms, at most 1 day.</value>
    [Range(typeof(TimeSpan), "00:00:00.1", "1.00:00:00")]
    public TimeSpan Pause { get; set; } = TimeSpan.FromSeconds(10);
}
