using Npgsql;

namespace Traceability.Service.Telemetry;

/// <summary>The settings on which it hangs whether an acknowledged fact survives a loss of power.</summary>
/// <param name="Fsync">fsync.</param>
/// <param name="SynchronousCommit">synchronous_commit of the service's own sessions.</param>
/// <param name="FullPageWrites">full_page_writes.</param>
/// <param name="DataChecksums">data_checksums.</param>
/// <remarks>Source of their meaning: PostgreSQL's documentation, "Write Ahead Log" in "Server Configuration".</remarks>
internal sealed record DurabilitySettings(string Fsync, string SynchronousCommit, string FullPageWrites, string DataChecksums)
{
    private const string On = "on";

    /// <summary>The settings as the connection's session has them.</summary>
    public static async Task<DurabilitySettings> ReadAsync(NpgsqlConnection connection, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand(
            "select current_setting('fsync'), current_setting('synchronous_commit'), current_setting('full_page_writes'), current_setting('data_checksums')",
            connection);
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        await reader.ReadAsync(cancellation);
        return new(reader.GetString(0), reader.GetString(1), reader.GetString(2), reader.GetString(3));
    }

    /// <summary>What each setting means for what the service promises.</summary>
    /// <param name="isPrivate">Whether the server is the service's own, made with checksums; those of another server are its owner's matter.</param>
    /// <param name="isUnsafeAllowed">Whether losing acknowledged facts was accepted (tests).</param>
    public IEnumerable<HealthCheckResult> Judge(bool isPrivate, bool isUnsafeAllowed)
    {
        yield return Check("fsync", Fsync is On, Fsync, "a loss of power could lose acknowledged facts", HealthStatus.Fail);

        // "local" and weaker don't wait for standbys that the server's owner has set up to be waited for.
        yield return Check(
            "synchronous-commit", SynchronousCommit is On or "remote_apply", SynchronousCommit, "a crash could lose acknowledged facts", HealthStatus.Fail);
        yield return Check("full-page-writes", FullPageWrites is On, FullPageWrites, "a loss of power could leave torn pages", HealthStatus.Fail);
        yield return Check(
            "data-checksums",
            DataChecksums is On,
            DataChecksums,
            "damage by the disk would go unnoticed; pg_checksums --enable turns them on while the server is stopped",
            isPrivate ? HealthStatus.Fail : HealthStatus.Warn);

        HealthCheckResult Check(string name, bool isSafe, string value, string risk, HealthStatus otherwise) => isSafe
            ? new(name, HealthStatus.Pass, $"It is {value}.")
            : isUnsafeAllowed
                ? new(name, HealthStatus.Warn, $"It is {value}: {risk}. Postgres:AllowUnsafeDurability accepts that.")
                : new(name, otherwise, $"It is {value}: {risk}.");
    }
}
