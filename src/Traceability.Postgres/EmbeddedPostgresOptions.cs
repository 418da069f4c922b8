namespace Traceability.Postgres;

/// <summary>How the private PostgreSQL server is kept and started.</summary>
public sealed class EmbeddedPostgresOptions
{
    /// <summary>Gets the folder that the server is kept in; made when absent.</summary>
    /// <value>The cluster itself lies in its subfolder <c>cluster</c>; the rest of the folder is the caller's.</value>
    public required string DataFolder { get; init; }

    /// <summary>Gets what an acknowledged commit survives.</summary>
    /// <value>Default <see cref="PostgresDurability.Full"/>.</value>
    public PostgresDurability Durability { get; init; } = PostgresDurability.Full;

    /// <summary>Gets the folder with <c>initdb</c> and <c>postgres</c>.</summary>
    /// <value>Default null: found as <see cref="PostgresBinaries.Find"/> says, in the version of an existing cluster if that is installed.</value>
    public string? BinFolder { get; init; }

    /// <summary>Gets the system user who runs the server when this process is root, which PostgreSQL refuses to be.</summary>
    /// <value>Default <c>postgres</c>. Not looked at when this process is an ordinary user, or when the cluster has another owner already.</value>
    public string SystemUser { get; init; } = "postgres";

    /// <summary>Gets further server settings, which go before the defaults of this launcher but never before durability.</summary>
    public IReadOnlyDictionary<string, string> Settings { get; init; } = new Dictionary<string, string>(StringComparer.Ordinal);

    /// <summary>Gets how long a start may take, recovery after a crash included.</summary>
    /// <value>Default 5 minutes.</value>
    public TimeSpan StartTimeout { get; init; } = TimeSpan.FromMinutes(5);

    /// <summary>Gets how long a fast shutdown may take before the server is stopped at once (and recovers at its next start).</summary>
    /// <value>Default 2 minutes.</value>
    public TimeSpan StopTimeout { get; init; } = TimeSpan.FromMinutes(2);

    /// <summary>Gets what receives the launcher's own messages, one sentence each. May be called from any thread.</summary>
    public Action<string>? Log { get; init; }
}
