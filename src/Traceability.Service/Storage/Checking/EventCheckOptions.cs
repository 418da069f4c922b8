using System.ComponentModel.DataAnnotations;

namespace Traceability.Service.Storage.Checking;

/// <summary>How stored events are checked for being readable. Bound from "EventCheck" and checked when the service starts.</summary>
public sealed class EventCheckOptions
{
    /// <summary>Name of the configuration section.</summary>
    public const string SectionName = "EventCheck";

    /// <summary>Gets or sets how long to wait between looks.</summary>
    /// <value>Default 2 s; at least 50 ms, at most 20 s, so that the alarm comes within half a minute.</value>
    [Range(typeof(TimeSpan), "00:00:00.05", "00:00:20")]
    public TimeSpan Pause { get; set; } = TimeSpan.FromSeconds(2);

    /// <summary>Gets or sets the most events that are read whole in one look; the names of all new ones are looked at.</summary>
    /// <value>Default 2,000; at least 10, at most 100,000. Reading one takes about 20 µs.</value>
    [Range(10, 100_000)]
    public int EventsMax { get; set; } = 2_000;

    /// <summary>Gets or sets how long after a round through all events the next one begins.</summary>
    /// <value>Default 1 day; at least 1 s, at most 365 days.</value>
    [Range(typeof(TimeSpan), "00:00:01", "365.00:00:00")]
    public TimeSpan RoundEvery { get; set; } = TimeSpan.FromDays(1);
}
