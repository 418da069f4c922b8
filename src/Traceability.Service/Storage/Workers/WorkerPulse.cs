using System.Collections.Concurrent;

namespace Traceability.Service.Storage.Workers;

/// <summary>When each background worker of this process last came round its loop. Safe for several threads.</summary>
internal sealed class WorkerPulse(TimeProvider clock)
{
    /// <summary>A worker that has not come round for so long is stuck.</summary>
    public static readonly TimeSpan StuckAfter = TimeSpan.FromSeconds(25);

    private readonly ConcurrentDictionary<string, (long At, DateTimeOffset Time)> _beats = new(StringComparer.Ordinal);

    /// <summary>The worker is at work.</summary>
    public void Beat(string worker) => _beats[worker] = (clock.GetTimestamp(), clock.GetUtcNow());

    /// <summary>The worker has ended as it should: nothing more is expected of it.</summary>
    public void End(string worker) => _beats.TryRemove(worker, out _);

    /// <summary>Since when the worker is stuck; null if it isn't, or never began.</summary>
    public DateTimeOffset? StuckSince(string worker) =>
        _beats.TryGetValue(worker, out var beat) && clock.GetElapsedTime(beat.At) > StuckAfter ? beat.Time : null;

    /// <summary>The workers that are stuck.</summary>
    public IReadOnlyList<(string Worker, DateTimeOffset Since)> Stuck() =>
        [.. _beats.Keys.Select(w => (w, StuckSince(w))).Where(w => w.Item2 is not null).Select(w => (w.w, w.Item2!.Value))];
}
