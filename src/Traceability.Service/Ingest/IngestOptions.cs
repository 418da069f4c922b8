using System.ComponentModel.DataAnnotations;

namespace Traceability.Service.Ingest;

/// <summary>Limits of the way in. Bound from "Ingest" and checked when the service starts.</summary>
public sealed class IngestOptions
{
    /// <summary>Name of the configuration section.</summary>
    public const string SectionName = "Ingest";

    /// <summary>Gets or sets the most facts that one transaction takes.</summary>
    /// <value>Default 1,000; at least 1, at most 2,000.</value>
    [Range(1, 2000)]
    public int GroupMax { get; set; } = 1_000;

    /// <summary>Gets or sets the most facts that wait; further ones are told to come back.</summary>
    /// <value>Default 20,000; at least 1, at most 1,000,000.</value>
    [Range(1, 1_000_000)]
    public int QueueMax { get; set; } = 20_000;

    /// <summary>Gets or sets the most units whose facts are kept in memory.</summary>
    /// <value>Default 4,000; at least 10, at most 200,000. One takes about 20 kB.</value>
    [Range(10, 200_000)]
    public int CachedUnitsMax { get; set; } = 4_000;

    /// <summary>Gets or sets how often a transaction that met another instance or a lost connection is tried.</summary>
    /// <value>Default 8; at least 1, at most 100.</value>
    [Range(1, 100)]
    public int TriesMax { get; set; } = 8;

    /// <summary>Gets or sets how long to wait between looks for units that are to be judged again.</summary>
    /// <value>Default 50 ms; at least 5 ms, at most 1 minute.</value>
    [Range(typeof(TimeSpan), "00:00:00.005", "00:01:00")]
    public TimeSpan RejudgePause { get; set; } = TimeSpan.FromMilliseconds(50);
}
