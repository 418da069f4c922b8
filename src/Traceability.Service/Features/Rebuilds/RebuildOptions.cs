using System.ComponentModel.DataAnnotations;

namespace Traceability.Service.Features.Rebuilds;

/// <summary>Limits of a rebuild. Bound from "Rebuilds" and checked when the service starts.</summary>
public sealed class RebuildOptions
{
    /// <summary>Name of the configuration section.</summary>
    public const string SectionName = "Rebuilds";

    /// <summary>Gets or sets how many pages of units are judged at the same time, and how many tables are indexed and compared.</summary>
    /// <value>Default: as many as the machine has processors, at most 8; at least 1, at most 64.</value>
    [Range(1, 64)]
    public int WorkersMax { get; set; } = Math.Clamp(Environment.ProcessorCount, 1, 8);

    /// <summary>Gets or sets the facts of one page, which is read, judged and written in one transaction.</summary>
    /// <value>Default 5,000; at least 100, at most 100,000. A fact takes about 3 kB of memory while its page is worked on.</value>
    [Range(100, 100_000)]
    public int PageFactsMax { get; set; } = 5_000;

    /// <summary>Gets or sets how many differing units are named; the others are counted.</summary>
    /// <value>Default 100; at least 1, at most 10,000.</value>
    [Range(1, 10_000)]
    public int DifferencesNamedMax { get; set; } = 100;

    /// <summary>Gets or sets how often the moment for the swap is looked for before the rebuild is given up.</summary>
    /// <value>Default 60; at least 1, at most 10,000. The pause between two looks grows to 5 s.</value>
    [Range(1, 10_000)]
    public int SwapTriesMax { get; set; } = 60;
}
