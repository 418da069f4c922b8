using System.Diagnostics;
using System.Threading.Channels;
using Microsoft.Extensions.Options;
using Npgsql;
using Traceability.Service.Storage;
using Traceability.Service.Telemetry;

namespace Traceability.Service.Ingest;

/// <summary>Takes what has queued during the last commit and stores it in one transaction; each fact gets an answer of its own.</summary>
/// <remarks>
/// One committer, no timer: an idle service commits a fact at once, a busy one in groups that grow with the load. It never
/// meets itself on a stream; another instance of the service is met by the expected versions, and then the group is planned
/// anew. A group that the database refuses is split, so that one bad fact can't take others with it.
/// </remarks>
internal sealed partial class GroupCommitter : BackgroundService, IIngest
{
    // After a repeat or a change of definitions others like it tend to follow: a sender sends a whole batch again.
    private const int CarefulGroups = 20;

    private static readonly TimeSpan RetryAfter = TimeSpan.FromSeconds(2);
    private readonly CommitDatabase _database;
    private readonly TimeProvider _clock;
    private readonly ILogger<GroupCommitter> _logger;
    private readonly IngestOptions _options;
    private readonly Channel<object> _queue;
    private readonly UnitCache _units;
    private readonly GroupPlanner _planner;
    private int _waiting;
    private int _trust;

    public GroupCommitter(
        CommitDatabase database, ReferenceCache references, TimeProvider clock, IOptions<IngestOptions> options, ILogger<GroupCommitter> logger)
    {
        _database = database;
        _clock = clock;
        _logger = logger;
        _options = options.Value;
        _queue = Channel.CreateUnbounded<object>(new() { SingleReader = true });
        _units = new(_options.CachedUnitsMax);
        _planner = new(_units, references, clock);
    }

    /// <inheritdoc />
    public async Task<IngestAnswer> SubmitAsync(PostedFact fact, CancellationToken cancellation)
    {
        cancellation.ThrowIfCancellationRequested();
        var pending = new PendingFact(fact);
        if (Interlocked.Increment(ref _waiting) > _options.QueueMax || !_queue.Writer.TryWrite(pending))
        {
            Interlocked.Decrement(ref _waiting);
            return new IngestAnswer.Unavailable(RetryAfter, "Too many facts are waiting to be stored, or the service is stopping. Send again with the same id.");
        }

        // The fact is on its way and is stored whatever the sender does now; every fact that was queued is answered soon.
        var answer = await pending.Answered;
        Interlocked.Decrement(ref _waiting);
        return answer;
    }

    /// <inheritdoc />
    public async Task RejudgeAsync(string unit, DateTimeOffset askedAt, CancellationToken cancellation)
    {
        var pending = new PendingRejudge(unit, askedAt);
        if (_queue.Writer.TryWrite(pending))
        {
            await pending.Done.WaitAsync(cancellation);
        }
    }

    /// <inheritdoc />
    public override async Task StopAsync(CancellationToken cancellationToken)
    {
        // What was accepted for storing is stored before the service ends.
        _queue.Writer.TryComplete();
        await base.StopAsync(cancellationToken);
    }

    /// <inheritdoc />
    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        List<object> group = [];
        while (await _queue.Reader.WaitToReadAsync(CancellationToken.None))
        {
            group.Clear();
            while (group.Count < _options.GroupMax && _queue.Reader.TryRead(out var pending))
            {
                group.Add(pending);
            }

            await StoreAsync(group);
        }
    }

    private async Task StoreAsync(List<object> group)
    {
        var started = Stopwatch.GetTimestamp();
        using var activity = ServiceTelemetry.Source.StartActivity("group-commit");
        activity?.SetTag("facts", group.Count);
        try
        {
            await StoreWithRetriesAsync(group);
            ServiceTelemetry.GroupSize.Record(group.Count);
            ServiceTelemetry.GroupDuration.Record(Stopwatch.GetElapsedTime(started).TotalMilliseconds);
        }
        catch (Exception exception) when (group.Count > 1 && !IsConnectionTrouble(exception))
        {
            LogSplit(_logger, group.Count, exception);
            await StoreAsync(group[..(group.Count / 2)]);
            await StoreAsync(group[(group.Count / 2)..]);
        }
        catch (Exception exception)
        {
            // Whatever it is, the committer goes on with the next group, and the sender is told that nothing is sure.
            activity?.SetStatus(ActivityStatusCode.Error);
            LogFailed(_logger, group.Count, exception);
            ServiceTelemetry.GroupsFailed.Add(1);
            foreach (var pending in group)
            {
                (pending as PendingFact)?.Answer(new IngestAnswer.Unavailable(RetryAfter, "The database did not store the fact. Send again with the same id."));
                (pending as PendingRejudge)?.Fail(exception);
            }
        }
    }

    private async Task StoreWithRetriesAsync(List<object> group)
    {
        for (var tries = 1; ; tries++)
        {
            try
            {
                await TryStoreAsync(group);
                return;
            }
            catch (Exception exception) when (tries < _options.TriesMax && IsTransient(exception))
            {
                // The outcome of a commit that broke off is not known: the receipts tell at the next try.
                LogRetry(_logger, tries, exception.Message);
                ServiceTelemetry.GroupRetries.Add(1);
                _trust = -CarefulGroups;
                if (exception is StalePlanException { IsRepeat: true } or StalePlanException { IsClock: true })
                {
                    continue;
                }

                foreach (var stream in group.OfType<PendingFact>().Select(p => Domain.Facts.StreamNames.Of(p.Posted.Fact)).OfType<string>())
                {
                    _units.Remove(stream);
                }

                if (exception is not StalePlanException)
                {
                    await Task.Delay(TimeSpan.FromMilliseconds(Math.Min(20 << Math.Min(tries, 6), 1_000)), _clock);
                }
            }
        }
    }

    private async Task TryStoreAsync(List<object> group)
    {
        await using var connection = await _database.OpenConnectionAsync();
        var plan = await _planner.PlanAsync(
            connection, [.. group.OfType<PendingFact>()], [.. group.OfType<PendingRejudge>()], isTrusting: _trust >= 0, CancellationToken.None);
        if (!plan.IsEmpty)
        {
            try
            {
                await GroupWriter.WriteAsync(connection, plan, CancellationToken.None);
            }
            catch (Exception exception) when (exception is not (StalePlanException { IsRepeat: true } or StalePlanException { IsClock: true }))
            {
                foreach (var stream in plan.Units.Keys)
                {
                    _units.Remove(stream);
                }

                throw;
            }
        }

        // What this group changed itself is seen by looking, too.
        _trust = plan.ChangedReferences.Any() ? Math.Min(_trust, -1) : Math.Min(_trust + 1, 0);

        foreach (var unit in plan.Units.Values)
        {
            _units.Put(unit.Rows is null ? unit.Stored : unit.AsStored());
        }

        ServiceTelemetry.FactsRecorded.Add(plan.Appends.Count);
        foreach (var (pending, answer) in plan.Answers)
        {
            pending.Answer(answer);
        }

        plan.Rejudges.ForEach(r => r.Finish());
    }

    internal static bool IsTransient(Exception exception) =>
        exception is StalePlanException
        || exception is PostgresException { SqlState: PostgresErrorCodes.UniqueViolation or PostgresErrorCodes.SerializationFailure or PostgresErrorCodes.DeadlockDetected }
        || IsConnectionTrouble(exception);

    private static bool IsConnectionTrouble(Exception exception) =>
        exception is PostgresException postgres
            ? postgres.SqlState is PostgresErrorCodes.AdminShutdown or PostgresErrorCodes.CrashShutdown or PostgresErrorCodes.CannotConnectNow
            : exception is NpgsqlException;

    [LoggerMessage(1, LogLevel.Warning, "A group of {Facts} was refused as a whole and is split")]
    private static partial void LogSplit(ILogger logger, int facts, Exception exception);

    [LoggerMessage(2, LogLevel.Error, "A group of {Facts} could not be stored")]
    private static partial void LogFailed(ILogger logger, int facts, Exception exception);

    [LoggerMessage(3, LogLevel.Information, "A group is planned anew after try {Tries}: {Reason}")]
    private static partial void LogRetry(ILogger logger, int tries, string reason);
}
