using System.ComponentModel.DataAnnotations;

namespace Traceability.Service.Features.Containments;

/// <summary>How containments are watched. Bound from "Containments" and checked when the service starts.</summary>
internal sealed class ContainmentOptions
{
    /// <summary>Name of the configuration section.</summary>
    public const string SectionName = "Containments";

    /// <summary>Gets or sets how long the service waits between two looks for facts that add members.</summary>
    /// <value>Default 5 s; at least 0.1 s, at most 10 minutes.</value>
    [Range(typeof(TimeSpan), "00:00:00.1", "00:10:00")]
    public TimeSpan WatchPause { get; set; } = TimeSpan.FromSeconds(5);

    /// <summary>Gets or sets how long a case is watched after it was closed. A member that is found then opens it again.</summary>
    /// <value>Default 365 days; at least 0, at most 36,525 days.</value>
    [Range(typeof(TimeSpan), "00:00:00", "36525.00:00:00")]
    public TimeSpan WatchClosedFor { get; set; } = TimeSpan.FromDays(365);
}
