using Npgsql;
using NpgsqlTypes;

namespace Traceability.Service.Storage.Workers;

/// <summary>Elects one instance of the service for each piece of background work, by a lease that it renews.</summary>
/// <remarks>
/// A lock held by a session would stay with an instance that is paused, whose connection the kernel keeps alive; a lease runs out.
/// An instance that wakes up may still believe for a moment that it holds one: the work must be right when two do it at once,
/// the lease only sees to it that as a rule they don't. Times are the database's, so clocks of instances don't matter.
/// </remarks>
internal sealed partial class WorkerLease(NpgsqlDataSource database, TimeProvider clock)
{
    /// <summary>How long a lease lasts without renewal: the longest time without work after an instance has died.</summary>
    public static readonly TimeSpan Length = TimeSpan.FromSeconds(6);

    private static readonly TimeSpan Renewal = Length / 3;
    private readonly Guid _holder = InstanceIds.Next();
    private readonly System.Collections.Concurrent.ConcurrentDictionary<string, long> _renewed = new(StringComparer.Ordinal);

    /// <summary>Whether this instance is to do the work now. Asks the database at most once in a third of the lease.</summary>
    public async Task<bool> HoldsAsync(string name, CancellationToken cancellation)
    {
        if (_renewed.TryGetValue(name, out var at) && clock.GetElapsedTime(at) < Renewal)
        {
            return true;
        }

        var before = clock.GetTimestamp();
        await using var command = Command(
            """
            insert into traceability.worker_lease as l (name, holder, until) values ($1, $2, clock_timestamp() + $3)
            on conflict (name) do update set holder = excluded.holder, until = excluded.until
            where l.holder = excluded.holder or l.until < clock_timestamp()
            returning true
            """,
            name);
        command.Parameters.Add(new() { Value = Length, NpgsqlDbType = NpgsqlDbType.Interval });
        if (await command.ExecuteScalarAsync(cancellation) is true)
        {
            _renewed[name] = before;
            return true;
        }

        _renewed.TryRemove(name, out _);
        return false;
    }

    /// <summary>Gives the work back, so that another instance need not wait. If the database can't be reached, the lease runs out by itself.</summary>
    public async Task TryReleaseAsync(string name, ILogger logger)
    {
        if (!_renewed.TryRemove(name, out _))
        {
            return;
        }

        try
        {
            await using var command = Command("delete from traceability.worker_lease where name = $1 and holder = $2", name);
            await command.ExecuteNonQueryAsync();
        }
        catch (NpgsqlException exception)
        {
            LogNotReleased(logger, name, exception.Message);
        }
    }

    [LoggerMessage(1, LogLevel.Information, "The lease of {Worker} is left to run out: {Reason}")]
    private static partial void LogNotReleased(ILogger logger, string worker, string reason);

    private NpgsqlCommand Command(string sql, string name)
    {
        var command = database.CreateCommand(sql);
        command.Parameters.Add(new() { Value = name });
        command.Parameters.Add(new() { Value = _holder });
        return command;
    }
}

/// <summary>Tells instances of the service apart.</summary>
internal static class InstanceIds
{
    /// <summary>An id that no other instance has.</summary>
    public static Guid Next() => new(System.Security.Cryptography.RandomNumberGenerator.GetBytes(16));
}
