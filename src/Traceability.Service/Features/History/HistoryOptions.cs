using System.ComponentModel.DataAnnotations;

namespace Traceability.Service.Features.History;

/// <summary>Limits of the import of history. Bound from "History" and checked when the service starts.</summary>
public sealed class HistoryOptions
{
    /// <summary>Name of the configuration section.</summary>
    public const string SectionName = "History";

    /// <summary>Gets or sets the most facts that one transaction takes.</summary>
    /// <value>Default 5,000; at least 1, at most 50,000. A tenth of it where definitions, lots, tools or people are among them, since live posts wait for those.</value>
    [Range(1, 50_000)]
    public int ChunkMax { get; set; } = 5_000;

    /// <summary>Gets or sets how many refused facts are told with their line; the others are counted.</summary>
    /// <value>Default 10,000; at least 1, at most 1,000,000. They are kept in memory until the file is read.</value>
    [Range(1, 1_000_000)]
    public int RefusalsToldMax { get; set; } = 10_000;
}
