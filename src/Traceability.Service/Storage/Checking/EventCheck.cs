using System.Collections.Concurrent;
using Microsoft.Extensions.Options;
using Npgsql;
using Traceability.Service.Storage.Workers;

namespace Traceability.Service.Storage.Checking;

/// <summary>Finds stored events that this version of the service can't read, and judges anew what they touch.</summary>
/// <remarks>
/// <para>
/// One instance does it. Each look goes through the new events, whoever stored them: a newer version of the service, an import, a
/// person with a database client. Of more new events than it may read whole in one look it reads the names, and the rest in later
/// looks. With what is left of its allowance it goes round all events, so that damage to old ones is found too.
/// </para>
/// <para>
/// An event that is noted and can be read now, by a newer version of the service, is taken off, and what it touched is judged anew:
/// that is how units come to be known again after an upgrade. The same holds for units that are marked and that nothing noted touches.
/// </para>
/// </remarks>
internal sealed partial class EventCheck(
    NpgsqlDataSource database,
    WorkerLease lease,
    WorkerPulse pulse,
    TimeProvider clock,
    IOptions<EventCheckOptions> options,
    ILogger<EventCheck> logger) : BackgroundService
{
    /// <summary>The worker's name.</summary>
    public const string Name = "event-check";

    private const int NoticedMax = 1_000;

    // Marked units that nothing noted touches are asked for again this often: an older version that runs beside this one marks them anew.
    private static readonly TimeSpan StaleEvery = TimeSpan.FromSeconds(20);

    private readonly ConcurrentDictionary<string, bool> _noticed = new(StringComparer.Ordinal);
    private readonly EventWindow _window = new();
    private long _names = -1;
    private long? _staleAt;
    private bool _hasAsked;

    /// <summary>Somebody has met an event of this stream that can't be read: look at it soon.</summary>
    public void Notice(string stream)
    {
        if (_noticed.Count < NoticedMax)
        {
            _noticed.TryAdd(stream, true);
        }
    }

    /// <summary>Looks at the streams in which somebody has met an event that can't be read.</summary>
    private async Task LookAtNoticedAsync(CancellationToken cancellation)
    {
        string[] streams = [.. _noticed.Keys.Where(s => _noticed.TryRemove(s, out _))];
        await using var connection = await database.OpenConnectionAsync(cancellation);
        await NoteAsync(connection, await StoredEvents.OfStreamsAsync(connection, streams, cancellation), cancellation);
    }

    /// <summary>One look, whoever holds the lease.</summary>
    internal async Task LookAsync(CancellationToken cancellation)
    {
        await using var connection = await database.OpenConnectionAsync(cancellation);
        await TakeOffReadableAsync(connection, cancellation);
        var left = await LookAtNewAsync(connection, cancellation);
        if (left > 0)
        {
            await LookAroundAsync(connection, left, cancellation);
        }

        if (_staleAt is not { } at || clock.GetElapsedTime(at) > StaleEvery)
        {
            // Either nothing unreadable is left, or it was met by somebody before the round came to it.
            var streams = await UnreadableEvents.AskForUntouchedAsync(connection, cancellation);
            await NoteAsync(connection, await StoredEvents.OfStreamsAsync(connection, streams, cancellation), cancellation);
            _staleAt = clock.GetTimestamp();
        }
    }

    /// <inheritdoc />
    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        while (!stoppingToken.IsCancellationRequested)
        {
            pulse.Beat(Name);
            try
            {
                // What this process has met is looked at by it, whoever goes round.
                if (!_noticed.IsEmpty)
                {
                    await LookAtNoticedAsync(stoppingToken);
                }

                if (await lease.HoldsAsync(Name, stoppingToken))
                {
                    await AskForNotJudgedOnceAsync(stoppingToken);
                    await LookAsync(stoppingToken);
                }
            }
            catch (OperationCanceledException) when (stoppingToken.IsCancellationRequested)
            {
                break;
            }
            catch (Exception exception)
            {
                // Where it stands is in the database: the next look goes on from there.
                LogFailed(logger, exception);
            }

            await Task.Delay(options.Value.Pause, clock, stoppingToken).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        }

        pulse.End(Name);
        await lease.TryReleaseAsync(Name, logger);
    }

    // Judging is a pure function: the same version fails again on the same facts, so each start of the service asks once.
    private async Task AskForNotJudgedOnceAsync(CancellationToken cancellation)
    {
        if (_hasAsked)
        {
            return;
        }

        await using var connection = await database.OpenConnectionAsync(cancellation);
        await UnreadableEvents.AskForNotJudgedAsync(connection, cancellation);
        _hasAsked = true;
    }

    private async Task<int> LookAtNewAsync(NpgsqlConnection connection, CancellationToken cancellation)
    {
        var most = options.Value.EventsMax;
        var (tail, last) = await UnreadableEvents.TailAsync(connection, cancellation);
        var found = await StoredEvents.AfterAsync(connection, tail, most, cancellation);
        await NoteAsync(connection, _window.New(found), cancellation);
        if (found.Count == most)
        {
            // Behind: a name that nobody knows is told at once.
            await NoteAsync(connection, await StoredEvents.UnknownAsync(connection, Math.Max(_names, found[^1].Seq), last, most, cancellation), cancellation);
        }

        _names = last;
        if (_window.End(found, clock.GetUtcNow(), isFull: found.Count == most) is { } end && end > tail)
        {
            await UnreadableEvents.SetTailAsync(connection, end, cancellation);
        }

        return most - found.Count;
    }

    private async Task LookAroundAsync(NpgsqlConnection connection, int most, CancellationToken cancellation)
    {
        if (await UnreadableEvents.RoundAsync(connection, options.Value.RoundEvery, cancellation) is { } from)
        {
            var found = await StoredEvents.AfterAsync(connection, from, most, cancellation);
            await NoteAsync(connection, found, cancellation);
            await UnreadableEvents.SetRoundAsync(connection, found.Count == 0 ? null : found[^1].Seq, cancellation);
        }
    }

    private async Task NoteAsync(NpgsqlConnection connection, IEnumerable<StoredEvent> events, CancellationToken cancellation)
    {
        foreach (var stored in events)
        {
            if (stored.Unreadable is { } reason && await UnreadableEvents.NoteAsync(connection, stored, reason, cancellation))
            {
                LogUnreadable(logger, stored.Id, stored.Stream, stored.Name, reason);
            }
        }
    }

    private async Task TakeOffReadableAsync(NpgsqlConnection connection, CancellationToken cancellation)
    {
        foreach (var (seq, stream) in await UnreadableEvents.ReadableNowAsync(connection, cancellation))
        {
            await UnreadableEvents.TakeOffAsync(connection, seq, stream, cancellation);
            LogReadable(logger, seq, stream);
        }
    }

    [LoggerMessage(1, LogLevel.Error, "Event {Id} of {Stream} ({Name}) can't be read: {Reason}. Everything that looks at it counts as unknown")]
    private static partial void LogUnreadable(ILogger logger, Guid id, string stream, string name, string reason);

    [LoggerMessage(2, LogLevel.Information, "Event number {Seq} of {Stream} can be read now; what it touched is judged anew")]
    private static partial void LogReadable(ILogger logger, long seq, string stream);

    [LoggerMessage(3, LogLevel.Error, "Checking the stored events failed")]
    private static partial void LogFailed(ILogger logger, Exception exception);
}
