using Npgsql;

namespace Traceability.Service.Features.Rebuilds;

/// <summary>How far a rebuild has got; noted in the database for whoever asks, on any instance, at most once a second.</summary>
internal sealed class RebuildProgress(NpgsqlDataSource database, TimeProvider clock, long id)
{
    private static readonly TimeSpan Pause = TimeSpan.FromSeconds(1);

    private long _units;
    private long _facts;
    private long _caughtUp;
    private long _savedAt = clock.GetTimestamp();
    private string _phase = "preparing";

    /// <summary>The number of the rebuild.</summary>
    public long Id => id;

    /// <summary>Counts units judged a second time, and facts read for it.</summary>
    public void Add(int units, int facts)
    {
        Interlocked.Add(ref _units, units);
        Interlocked.Add(ref _facts, facts);
    }

    /// <summary>Counts units judged once more since they were written meanwhile.</summary>
    public void AddCaughtUp(int units) => Interlocked.Add(ref _caughtUp, units);

    /// <summary>Goes on to the next phase.</summary>
    public async Task EnterAsync(string phase, CancellationToken cancellation)
    {
        _phase = phase;
        await SaveNowAsync(cancellation);
    }

    /// <summary>Notes the numbers, if they were not noted lately.</summary>
    public async Task SaveAsync(CancellationToken cancellation)
    {
        var before = Interlocked.Read(ref _savedAt);
        var now = clock.GetTimestamp();
        if (clock.GetElapsedTime(before, now) >= Pause && Interlocked.CompareExchange(ref _savedAt, now, before) == before)
        {
            await SaveNowAsync(cancellation);
        }
    }

    private async Task SaveNowAsync(CancellationToken cancellation)
    {
        await using var command = database.CreateCommand("update traceability.rebuild set phase = $2, units = $3, facts = $4, caught_up = $5 where id = $1");
        command.Parameters.Add(new() { Value = id });
        command.Parameters.Add(new() { Value = _phase });
        command.Parameters.Add(new() { Value = Interlocked.Read(ref _units) });
        command.Parameters.Add(new() { Value = Interlocked.Read(ref _facts) });
        command.Parameters.Add(new() { Value = Interlocked.Read(ref _caughtUp) });
        await command.ExecuteNonQueryAsync(cancellation);
    }
}
