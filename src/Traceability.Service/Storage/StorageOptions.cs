using System.ComponentModel.DataAnnotations;

namespace Traceability.Service.Storage;

/// <summary>Where the database is. Bound from "Postgres" and checked when the service starts.</summary>
/// <remarks>With the connection string "Traceability" the service uses that server; else it starts and owns a private one.</remarks>
public sealed class StorageOptions
{
    /// <summary>Name of the configuration section.</summary>
    public const string SectionName = "Postgres";

    /// <summary>Name of the connection string that names a server.</summary>
    public const string ConnectionStringName = "Traceability";

    /// <summary>Name of the connection string that names replicas to answer from; none by default.</summary>
    public const string ReadConnectionStringName = "TraceabilityRead";

    /// <summary>Gets or sets the data folder of the private server.</summary>
    /// <value>Default "data" below the current folder.</value>
    [Required]
    public string DataFolder { get; set; } = "data";

    /// <summary>Gets or sets the most connections that the service opens.</summary>
    /// <value>Default 40; at least 8, at most 500.</value>
    [Range(8, 500)]
    public int ConnectionsMax { get; set; } = 40;

    /// <summary>Gets or sets after how long the unfinished commit of an instance that stands still is ended by the others.</summary>
    /// <value>Default 5 s; at least 1 s, at most 10 minutes. Until then the others may wait for its locks.</value>
    [Range(typeof(TimeSpan), "00:00:01", "00:10:00")]
    public TimeSpan AbandonedAfter { get; set; } = TimeSpan.FromSeconds(5);

    /// <summary>Gets or sets a value indicating whether the service brings the database to its form when it starts.</summary>
    /// <value>Default true. With false it starts all the same, is not ready while the form is behind, and records nothing.</value>
    public bool MigrateAtStart { get; set; } = true;

    /// <summary>Gets or sets how far a replica may be behind and still answer.</summary>
    /// <value>Default 5 s; at least 0.2 s, at most 1 hour.</value>
    [Range(typeof(TimeSpan), "00:00:00.2", "01:00:00")]
    public TimeSpan ReplicaLagMax { get; set; } = TimeSpan.FromSeconds(5);

    /// <summary>Gets or sets a value indicating whether the service runs on a server that may lose acknowledged facts.</summary>
    /// <value>Default false; true for tests only: readiness then does not look at the server's durability settings.</value>
    public bool AllowUnsafeDurability { get; set; }
}
