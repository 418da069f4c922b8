using System.ComponentModel.DataAnnotations;

namespace Traceability.Service.Security;

/// <summary>How secrets of signatures are kept and guarded. Bound from "Signing" and checked when the service starts.</summary>
public sealed class SigningOptions
{
    /// <summary>Name of the configuration section.</summary>
    public const string SectionName = "Signing";

    /// <summary>Gets or sets how many wrong secrets in a row lock a person's signature.</summary>
    /// <value>Default 5; at least 1, at most 100 (NIST SP 800-63B, revision 3, section 5.2.2: no more than 100).</value>
    [Range(1, 100)]
    public int FailuresMax { get; set; } = 5;

    /// <summary>Gets or sets how long it stays locked after the last wrong one.</summary>
    /// <value>Default 15 minutes; at least 1 s, at most 1 day.</value>
    [Range(typeof(TimeSpan), "00:00:01", "1.00:00:00")]
    public TimeSpan LockDuration { get; set; } = TimeSpan.FromMinutes(15);

    /// <summary>Gets or sets the rounds of hashing of secrets that are set from now on.</summary>
    /// <value>Default 600,000, which takes some tenths of a second; at least 10,000 (NIST SP 800-63B, revision 3, section 5.1.1.2), at most 10,000,000.</value>
    [Range(10_000, 10_000_000)]
    public int Iterations { get; set; } = 600_000;
}
