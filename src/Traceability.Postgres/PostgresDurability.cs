namespace Traceability.Postgres;

/// <summary>What the server promises about a commit that it has acknowledged.</summary>
public enum PostgresDurability
{
    /// <summary>An acknowledged commit survives power loss: fsync, synchronous_commit and full_page_writes are on.</summary>
    Full,

    /// <summary>For tests only: nothing is forced to the disk, so a power loss may destroy the cluster.</summary>
    TestOnly,
}
