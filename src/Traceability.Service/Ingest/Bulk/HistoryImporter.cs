using System.Data;
using Microsoft.Extensions.Options;
using Npgsql;
using Traceability.Service.Storage;
using Traceability.Service.Telemetry;

namespace Traceability.Service.Ingest.Bulk;

/// <summary>Stores many facts of the past at once, each decided as a single post is, and each answered.</summary>
/// <remarks>Live posts go on beside it: another instance, and the committer of this one, are met by the expected versions.</remarks>
internal sealed partial class HistoryImporter(
    CommitDatabase database, ReferenceCache references, TimeProvider clock, IOptions<IngestOptions> options, ILogger<HistoryImporter> logger)
{
    private static readonly TimeSpan RetryAfter = TimeSpan.FromSeconds(2);

    private readonly HistoryPlanner _planner = new(references, clock);

    private readonly record struct Stored(bool GoesOn, bool IsAsPlanned);

    /// <summary>Stores facts chunk by chunk, each in one transaction. While one is stored, the next one is planned.</summary>
    /// <param name="chunks">The chunks, in order.</param>
    /// <param name="factsOf">The facts of a chunk.</param>
    /// <param name="told">Takes the answers of a chunk, in the order of its facts, as soon as they are durable; tells whether to go on.</param>
    /// <param name="cancellation">Gives up; what is being stored then is stored or not.</param>
    public async Task ImportAsync<TChunk>(
        IAsyncEnumerable<TChunk> chunks,
        Func<TChunk, IReadOnlyList<PostedFact>> factsOf,
        Func<TChunk, IReadOnlyList<IngestAnswer>, Task<bool>> told,
        CancellationToken cancellation)
    {
        GroupPlan? before = null;
        var storing = Task.FromResult(new Stored(GoesOn: true, IsAsPlanned: false));
        try
        {
            await foreach (var chunk in chunks.WithCancellation(cancellation))
            {
                var facts = factsOf(chunk);
                var plan = before is null || storing.IsCompleted ? null : await TryPlanAsync(facts, before, cancellation);
                var (goesOn, isAsPlanned) = await storing;
                if (!goesOn)
                {
                    return;
                }

                before = (isAsPlanned ? plan : null) ?? await TryPlanAsync(facts, null, cancellation);
                storing = StoreAsync(chunk, facts, before, told, cancellation);
            }
        }
        finally
        {
            await storing;
        }
    }

    private async Task<Stored> StoreAsync<TChunk>(
        TChunk chunk, IReadOnlyList<PostedFact> facts, GroupPlan? plan, Func<TChunk, IReadOnlyList<IngestAnswer>, Task<bool>> told, CancellationToken cancellation)
    {
        var (answers, isAsPlanned) = await StoreAsync(facts, plan, cancellation);
        return new(await told(chunk, answers), isAsPlanned);
    }

    // A plan that can't be had is not worth a try of its own: the storing plans again, and knows how to go on.
    private async Task<GroupPlan?> TryPlanAsync(IReadOnlyList<PostedFact> facts, GroupPlan? before, CancellationToken cancellation)
    {
        if (facts.Count == 0)
        {
            return null;
        }

        try
        {
            await using var connection = await database.OpenConnectionAsync();
            return await PlanAsync(connection, facts, before, cancellation);
        }
        catch (Exception exception) when (exception is not OperationCanceledException)
        {
            LogNotPlanned(logger, facts.Count, exception.Message);
            return null;
        }
    }

    private async Task<GroupPlan?> PlanAsync(NpgsqlConnection connection, IReadOnlyList<PostedFact> facts, GroupPlan? before, CancellationToken cancellation)
    {
        await using var snapshot = await connection.BeginTransactionAsync(IsolationLevel.RepeatableRead, cancellation);
        var plan = await _planner.PlanAsync(connection, [.. facts.Select(f => new PendingFact(f))], before, cancellation);
        await snapshot.CommitAsync(cancellation);
        return plan;
    }

    // In one transaction; the answers are in the facts' order, and given when it is durable.
    private async Task<(IReadOnlyList<IngestAnswer> Answers, bool IsAsPlanned)> StoreAsync(IReadOnlyList<PostedFact> facts, GroupPlan? plan, CancellationToken cancellation)
    {
        if (facts.Count == 0)
        {
            return ([], false);
        }

        for (var tries = 1; ; tries++)
        {
            try
            {
                var answers = await TryAsync(facts, tries == 1 ? plan : null, cancellation);
                return (answers, plan is not null && tries == 1);
            }
            catch (Exception exception) when (exception is not OperationCanceledException)
            {
                // The outcome of a commit that broke off is not known: the receipts tell at the next try.
                if (tries < options.Value.TriesMax && GroupCommitter.IsTransient(exception))
                {
                    LogRetry(logger, facts.Count, tries, exception.Message);
                    await Task.Delay(TimeSpan.FromMilliseconds(Math.Min(20 << Math.Min(tries, 6), 1_000)), clock, cancellation);
                }
                else if (facts.Count > 1 && exception is PostgresException && !GroupCommitter.IsTransient(exception))
                {
                    // A fact that the database refuses must not take others with it.
                    LogSplit(logger, facts.Count, exception);
                    return
                    (
                        [
                            .. (await StoreAsync([.. facts.Take(facts.Count / 2)], null, cancellation)).Answers,
                            .. (await StoreAsync([.. facts.Skip(facts.Count / 2)], null, cancellation)).Answers,
                        ],
                        false);
                }
                else
                {
                    LogFailed(logger, facts.Count, exception);
                    return ([.. facts.Select(_ => new IngestAnswer.Unavailable(RetryAfter, "The database did not store the fact. Send again with the same id."))], false);
                }
            }
        }
    }

    private async Task<IReadOnlyList<IngestAnswer>> TryAsync(IReadOnlyList<PostedFact> facts, GroupPlan? plan, CancellationToken cancellation)
    {
        await using var connection = await database.OpenConnectionAsync();
        plan ??= (await PlanAsync(connection, facts, null, cancellation))!;
        if (!plan.IsEmpty)
        {
            try
            {
                await HistoryWriter.WriteAsync(connection, plan, cancellation);
            }
            catch
            {
                database.Discard();
                throw;
            }

            ServiceTelemetry.FactsRecorded.Add(plan.Appends.Count);
        }

        return [.. plan.Answers.Select(a => a.Answer)];
    }

    [LoggerMessage(1, LogLevel.Information, "{Facts} facts of the past are planned anew after try {Tries}: {Reason}")]
    private static partial void LogRetry(ILogger logger, int facts, int tries, string reason);

    [LoggerMessage(2, LogLevel.Warning, "{Facts} facts of the past were refused as a whole and are split")]
    private static partial void LogSplit(ILogger logger, int facts, Exception exception);

    [LoggerMessage(3, LogLevel.Error, "{Facts} facts of the past could not be stored")]
    private static partial void LogFailed(ILogger logger, int facts, Exception exception);

    [LoggerMessage(4, LogLevel.Information, "{Facts} facts of the past could not be planned ahead: {Reason}")]
    private static partial void LogNotPlanned(ILogger logger, int facts, string reason);
}
