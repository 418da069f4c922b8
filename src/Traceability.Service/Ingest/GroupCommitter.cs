using System.Diagnostics;
using System.Threading.Channels;
using Microsoft.Extensions.Options;
using Npgsql;
using Traceability.Service.Storage;
using Traceability.Service.Telemetry;

namespace Traceability.Service.Ingest;

/// <summary>Takes what has queued during the last commit and stores it in one transaction; each fact gets an answer of its own.</summary>
/// <remarks>
/// One committer, no timer: an idle service commits a fact at once, a busy one in groups that grow with the load. While one
/// group is stored the next is planned, on what the first will leave behind; if the first fails, the plan is made anew. It never
/// meets itself on a stream; another instance of the service is met by the expected versions, and then the group is planned
/// anew. A group that the database refuses is split, so that one bad fact can't take others with it.
/// </remarks>
internal sealed partial class GroupCommitter : BackgroundService, IIngest
{
    // After a repeat or a change of definitions others like it tend to follow: a sender sends a whole batch again.
    private const int CarefulGroups = 20;

    // So many facts are planned before it is looked whether the database has become free for them.
    private const int StepMax = 256;

    private static readonly TimeSpan RetryAfter = TimeSpan.FromSeconds(2);
    private readonly CommitDatabase _database;
    private readonly TimeProvider _clock;
    private readonly ILogger<GroupCommitter> _logger;
    private readonly IngestOptions _options;
    private readonly Channel<object> _queue;
    private readonly UnitCache _units;
    private readonly StoreTrouble _trouble;
    private readonly GroupPlanner _planner;

    // Whoever plans or forgets a plan holds it: the memory of units is for one at a time.
    private readonly SemaphoreSlim _turn = new(1, 1);
    private int _waiting;
    private volatile int _trust;
    private volatile bool _mayPlanAhead;

    public GroupCommitter(
        CommitDatabase database, ReferenceCache references, StoreTrouble trouble, TimeProvider clock, IOptions<IngestOptions> options, ILogger<GroupCommitter> logger)
    {
        _database = database;
        _trouble = trouble;
        _clock = clock;
        _logger = logger;
        _options = options.Value;

        // Whoever brings a fact while the committer waits for one goes on as the committer, until that waits for the database: no
        // other thread needs waking, which on an idle service takes longer than the planning.
        _queue = Channel.CreateUnbounded<object>(new() { SingleReader = true, AllowSynchronousContinuations = true });
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
    public async Task<ImmutableArray<IngestAnswer>> SubmitTogetherAsync(IReadOnlyList<PostedFact> facts, CancellationToken cancellation)
    {
        cancellation.ThrowIfCancellationRequested();
        var together = new PendingTogether(facts);
        if (Interlocked.Add(ref _waiting, facts.Count) > _options.QueueMax || !_queue.Writer.TryWrite(together))
        {
            Interlocked.Add(ref _waiting, -facts.Count);
            return [.. facts.Select(_ => (IngestAnswer)new IngestAnswer.Unavailable(RetryAfter, "Too many facts are waiting to be stored, or the service is stopping. Send again with the same id."))];
        }

        var answers = await Task.WhenAll(together.Facts.Select(f => f.Answered));
        Interlocked.Add(ref _waiting, -facts.Count);
        return [.. answers];
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
    public override void Dispose()
    {
        _turn.Dispose();
        base.Dispose();
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
        var stored = Task.FromResult(true);
        List<object> held = [];
        var stepMax = Math.Min(StepMax, _options.GroupMax);
        var more = MoreAsync();
        while (held.Count > 0 || await more)
        {
            if (!stored.IsCompleted)
            {
                // Behind the requests that are being read: what they bring is planned with the first, and no request does it for others.
                await Task.Yield();
            }

            List<object> group = [.. held, .. Take(stepMax - held.Count)];
            held = [];
            more = more.IsCompleted ? MoreAsync() : more;
            if (group.Count == 0)
            {
                continue;
            }

            // While a group is on its way to the disk, the next one is planned on what it will leave behind. It grows until then.
            var ahead = stored.IsCompleted || !_mayPlanAhead ? null : await PlanAheadAsync(null, group);
            while (ahead is { IsVoid: false } && group.Count < _options.GroupMax && await Task.WhenAny(stored, more) == more && await more)
            {
                await Task.Yield();
                var further = Take(Math.Min(stepMax, _options.GroupMax - group.Count));
                more = MoreAsync();
                if (await PlanAheadAsync(ahead, further) is { } grown)
                {
                    ahead = grown;
                    group.AddRange(further);
                }
                else
                {
                    held = further;
                    break;
                }
            }

            var plan = await stored && ahead is { IsVoid: false } ? ahead.Plan : null;
            if (plan is not null)
            {
                await ExpectAsync(plan);
            }

            stored = StoreAsync(group, plan);
        }

        await stored;
    }

    private Task<bool> MoreAsync() => _queue.Reader.WaitToReadAsync(CancellationToken.None).AsTask();

    private List<object> Take(int most)
    {
        List<object> taken = [];
        while (taken.Count < most && _queue.Reader.TryRead(out var pending))
        {
            taken.Add(pending);
        }

        return taken;
    }

    /// <summary>Stores a group and answers its facts; false if it did not go as planned, so that a plan which rests on it is void.</summary>
    private async Task<bool> StoreAsync(List<object> group, GroupPlan? plan)
    {
        var started = Stopwatch.GetTimestamp();
        using var activity = ServiceTelemetry.Source.StartActivity("group-commit");
        activity?.SetTag("facts", group.Count);
        try
        {
            var isAsPlanned = await StoreWithRetriesAsync(group, plan);
            _trouble.Clear();
            ServiceTelemetry.GroupSize.Record(group.Count);
            ServiceTelemetry.GroupDuration.Record(Stopwatch.GetElapsedTime(started).TotalMilliseconds);
            return isAsPlanned;
        }
        catch (Exception exception) when (group.Count > 1 && !IsConnectionTrouble(exception) && !StoreTrouble.IsLackOfResources(exception))
        {
            LogSplit(_logger, group.Count, exception);
            await StoreAsync(group[..(group.Count / 2)], plan: null);
            await StoreAsync(group[(group.Count / 2)..], plan: null);
        }
        catch (Exception exception)
        {
            // Whatever it is, the committer goes on with the next group, and the sender is told that nothing is sure.
            activity?.SetStatus(ActivityStatusCode.Error);
            LogFailed(_logger, group.Count, exception);
            _trouble.Note(exception);
            ServiceTelemetry.GroupsFailed.Add(1);
            var answer = new IngestAnswer.Unavailable(RetryAfter, "The database did not store the fact. Send again with the same id.");
            Answers.Give([.. PendingTogether.FactsOf(group).Select(p => (p, (IngestAnswer)answer))], isIdle: false);
            foreach (var pending in group.OfType<PendingRejudge>())
            {
                pending.Fail(exception);
            }
        }

        return false;
    }

    private async Task<bool> StoreWithRetriesAsync(List<object> group, GroupPlan? plan)
    {
        for (var tries = 1; ; tries++)
        {
            try
            {
                await TryStoreAsync(group, plan);
                return tries == 1;
            }
            catch (Exception exception) when (tries < _options.TriesMax && IsTransient(exception))
            {
                // The outcome of a commit that broke off is not known: the receipts tell at the next try.
                LogRetry(_logger, tries, exception.Message);
                ServiceTelemetry.GroupRetries.Add(1);
                _trust = -CarefulGroups;
                plan = null;
                if (exception is not StalePlanException)
                {
                    await Task.Delay(TimeSpan.FromMilliseconds(Math.Min(20 << Math.Min(tries, 6), 1_000)), _clock);
                }
            }
        }
    }

    private async Task TryStoreAsync(List<object> group, GroupPlan? plan)
    {
        await using var connection = await _database.OpenConnectionAsync();
        plan ??= await PlanAsync(connection, group);
        if (!plan.IsEmpty)
        {
            try
            {
                await GroupWriter.WriteAsync(connection, plan, CancellationToken.None);
            }
            catch
            {
                _database.Discard();
                await ForgetAsync(plan);
                throw;
            }
        }

        // What this group changed itself is seen by looking, too.
        _trust = plan.ChangedReferences.Any() ? Math.Min(_trust, -1) : Math.Min(_trust + 1, 0);
        ServiceTelemetry.FactsRecorded.Add(plan.Appends.Count);
        Answers.Give(plan.Answers, isIdle: Volatile.Read(ref _waiting) == 1);
        plan.Rejudges.ForEach(r => r.Finish());
    }

    private async Task<GroupPlan> PlanAsync(NpgsqlConnection connection, List<object> group)
    {
        await _turn.WaitAsync();
        try
        {
            var plan = await _planner.PlanAsync(
                connection, [.. PendingTogether.FactsOf(group)], [.. group.OfType<PendingRejudge>()], isTrusting: _trust >= 0, CancellationToken.None);
            Expect(plan);
            return plan;
        }
        finally
        {
            _turn.Release();
        }
    }

    // Null where the facts can't be planned before the group ahead of them is stored; a plan that they were to join is good all the same.
    private async Task<PlanAhead?> PlanAheadAsync(PlanAhead? ahead, List<object> facts)
    {
        await _turn.WaitAsync();
        try
        {
            if (!_mayPlanAhead || _trust < 0 || facts.Exists(p => p is not PendingFact))
            {
                return null;
            }

            await using var connection = await _database.OpenConnectionAsync();
            return await _planner.PlanAheadAsync(connection, ahead, [.. facts.Cast<PendingFact>()], CancellationToken.None);
        }
        catch (Exception exception)
        {
            // Whatever it is, it comes up again when the group's turn is there, with tries and with answers: it must not end the committer.
            LogNotAhead(_logger, facts.Count, exception.Message);
            return ahead is null ? null : ahead with { IsVoid = true };
        }
        finally
        {
            _turn.Release();
        }
    }

    private async Task ExpectAsync(GroupPlan plan)
    {
        await _turn.WaitAsync();
        Expect(plan);
        _turn.Release();
    }

    // From here on units are taken to be as the plan leaves them. A plan that did more than add facts to units is waited for.
    private void Expect(GroupPlan plan)
    {
        foreach (var unit in plan.Units.Values)
        {
            _units.Put(unit.Rows is null ? unit.Stored : unit.AsStored(plan.ReferenceGeneration));
        }

        _mayPlanAhead = plan.Rejudges.Count == 0 && plan.Moved.Count == 0 && !plan.ChangedReferences.Any();
    }

    // What a plan that was not stored has left in memory. The next try reads the units anew.
    private async Task ForgetAsync(GroupPlan plan)
    {
        await _turn.WaitAsync();
        foreach (var stream in plan.Units.Keys)
        {
            _units.Remove(stream);
        }

        _turn.Release();
    }

    internal static bool IsTransient(Exception exception) =>
        exception is StalePlanException
        || exception is PostgresException { SqlState: PostgresErrorCodes.UniqueViolation or PostgresErrorCodes.SerializationFailure or PostgresErrorCodes.DeadlockDetected }
        || (IsConnectionTrouble(exception) && !StoreTrouble.IsHeldUp(exception));

    private static bool IsConnectionTrouble(Exception exception) =>
        exception is PostgresException postgres
            ? postgres.SqlState is PostgresErrorCodes.AdminShutdown or PostgresErrorCodes.CrashShutdown or PostgresErrorCodes.CannotConnectNow
                or PostgresErrorCodes.LockNotAvailable or PostgresErrorCodes.QueryCanceled
            : exception is NpgsqlException;

    [LoggerMessage(1, LogLevel.Warning, "A group of {Facts} was refused as a whole and is split")]
    private static partial void LogSplit(ILogger logger, int facts, Exception exception);

    [LoggerMessage(4, LogLevel.Information, "A group of {Facts} could not be planned ahead: {Reason}")]
    private static partial void LogNotAhead(ILogger logger, int facts, string reason);

    [LoggerMessage(2, LogLevel.Error, "A group of {Facts} could not be stored")]
    private static partial void LogFailed(ILogger logger, int facts, Exception exception);

    [LoggerMessage(3, LogLevel.Information, "A group is planned anew after try {Tries}: {Reason}")]
    private static partial void LogRetry(ILogger logger, int tries, string reason);
}
