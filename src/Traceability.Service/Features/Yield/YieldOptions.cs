using System.ComponentModel.DataAnnotations;

namespace Traceability.Service.Features.Yield;

/// <summary>How yield counters are folded. Bound from "Yield" and checked when the service starts.</summary>
/// <remarks>Answers do not depend on these: they sum what is folded and what is not.</remarks>
public sealed class YieldOptions
{
    /// <summary>Name of the configuration section.</summary>
    public const string SectionName = "Yield";

    /// <summary>Gets or sets how long to wait between looks for changes to fold, while there are some.</summary>
    /// <value>Default 20 ms; at least 5 ms, at most 1 minute.</value>
    [Range(typeof(TimeSpan), "00:00:00.005", "00:01:00")]
    public TimeSpan FoldPause { get; set; } = TimeSpan.FromMilliseconds(20);

    /// <summary>Gets or sets how long to wait between looks while there is nothing to fold.</summary>
    /// <value>Default 200 ms; at least 5 ms, at most 1 minute.</value>
    [Range(typeof(TimeSpan), "00:00:00.005", "00:01:00")]
    public TimeSpan FoldPauseIdle { get; set; } = TimeSpan.FromMilliseconds(200);

    /// <summary>Gets or sets the most changes that one transaction folds.</summary>
    /// <value>Default 5,000; at least 1, at most 100,000.</value>
    [Range(1, 100_000)]
    public int FoldPageSize { get; set; } = 5_000;
}
