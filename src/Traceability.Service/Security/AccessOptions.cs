using System.ComponentModel.DataAnnotations;

namespace Traceability.Service.Security;

/// <summary>Who may reach the service. Bound from "Access" and checked when the service starts.</summary>
public sealed class AccessOptions
{
    /// <summary>Name of the configuration section.</summary>
    public const string SectionName = "Access";

    /// <summary>Gets or sets a value indicating whether the service may listen on an address that other machines reach.</summary>
    /// <value>Default false. Keys travel as they are: set it only where something before the service encrypts (TLS).</value>
    public bool AllowNonLoopback { get; set; }

    /// <summary>Gets or sets how long a key that was found is not looked up again.</summary>
    /// <value>Default 5 s; at least none, at most 1 minute. So long after its revocation can a key still work in another instance of the service; in the one that revoked it, it ends at once.</value>
    [Range(typeof(TimeSpan), "00:00:00", "00:01:00")]
    public TimeSpan KeyCacheDuration { get; set; } = TimeSpan.FromSeconds(5);

    /// <summary>Gets or sets the most keys that are kept in memory.</summary>
    /// <value>Default 2,000; at least 1, at most 1,000,000. One takes about 300 bytes.</value>
    [Range(1, 1_000_000)]
    public int CachedKeysMax { get; set; } = 2_000;
}
