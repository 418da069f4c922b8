using Npgsql;

namespace Traceability.Service.Storage;

/// <summary>Whether the database takes what it is given: what the last commits met. May be used from any thread.</summary>
/// <remarks>
/// A full disk is seen by nobody who only reads. The trouble counts for <see cref="Kept"/> and not until a commit succeeds:
/// an instance that is not ready is given no facts, so that nothing would ever succeed.
/// </remarks>
internal sealed class StoreTrouble(TimeProvider clock)
{
    /// <summary>How long a failure counts.</summary>
    public static readonly TimeSpan Kept = TimeSpan.FromSeconds(15);

    private sealed record Failure(string Reason, DateTimeOffset At);

    private Failure? _last;

    /// <summary>What is in the way, for a person; null while nothing is.</summary>
    public string? Reason => Volatile.Read(ref _last) is { } failure && clock.GetUtcNow() - failure.At < Kept ? failure.Reason : null;

    /// <summary>Whether the server lacks something that it needs to store anything at all: disk, memory, connections.</summary>
    public static bool IsLackOfResources(Exception exception) =>
        exception is PostgresException error
        && (error.SqlState.StartsWith("53", StringComparison.Ordinal) || error.SqlState.StartsWith("58", StringComparison.Ordinal) || IsNoGrowth(error));

    // A quota or a limit on file sizes has no code of its own: it is told by the part of the server that lets files grow.
    private static bool IsNoGrowth(PostgresException error) => error is { SqlState: PostgresErrorCodes.InternalError, Routine: "mdextend" };

    /// <summary>Whether the commit waited for too long: for a lock that somebody holds, or for the server.</summary>
    /// <remarks>What an instance of the service holds is given back by itself (<see cref="AbandonedCommits"/>); a stranger's forgotten transaction is not.</remarks>
    public static bool IsHeldUp(Exception exception) =>
        exception is PostgresException { SqlState: PostgresErrorCodes.LockNotAvailable or PostgresErrorCodes.QueryCanceled } || exception is NpgsqlException { InnerException: TimeoutException };

    /// <summary>A commit failed for good; counts if it is the server that can't store.</summary>
    public void Note(Exception exception)
    {
        if (IsHeldUp(exception))
        {
            Volatile.Write(ref _last, new("Commits wait for a lock that another session of the database holds, or for the database itself. Find that session with pg_blocking_pids and end it.", clock.GetUtcNow()));
        }
        else if (IsLackOfResources(exception))
        {
            Volatile.Write(ref _last, new(
                exception is PostgresException error && (error.SqlState == PostgresErrorCodes.DiskFull || IsNoGrowth(error))
                    ? "A disk of the database is full, or its files may not grow. Nothing new is stored until there is space; nothing that was acknowledged is lost."
                    : "The database lacks something that it needs to store anything. The service's log says what.",
                clock.GetUtcNow()));
        }
    }

    /// <summary>A commit succeeded.</summary>
    public void Clear()
    {
        if (Volatile.Read(ref _last) is not null)
        {
            Volatile.Write(ref _last, null);
        }
    }
}
