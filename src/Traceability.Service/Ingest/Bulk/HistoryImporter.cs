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

    /// <summary>Stores the facts in one transaction; the answers are in their order, and given when it is durable.</summary>
    public async Task<IReadOnlyList<IngestAnswer>> ImportAsync(IReadOnlyList<PostedFact> facts, CancellationToken cancellation)
    {
        if (facts.Count == 0)
        {
            return [];
        }

        for (var tries = 1; ; tries++)
        {
            try
            {
                return await TryAsync(facts, cancellation);
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
                    [
                        .. await ImportAsync([.. facts.Take(facts.Count / 2)], cancellation),
                        .. await ImportAsync([.. facts.Skip(facts.Count / 2)], cancellation),
                    ];
                }
                else
                {
                    LogFailed(logger, facts.Count, exception);
                    return [.. facts.Select(_ => new IngestAnswer.Unavailable(RetryAfter, "The database did not store the fact. Send again with the same id."))];
                }
            }
        }
    }

    private async Task<IReadOnlyList<IngestAnswer>> TryAsync(IReadOnlyList<PostedFact> facts, CancellationToken cancellation)
    {
        await using var connection = await database.OpenConnectionAsync();
        GroupPlan plan;
        await using (var snapshot = await connection.BeginTransactionAsync(IsolationLevel.RepeatableRead, cancellation))
        {
            plan = await _planner.PlanAsync(connection, [.. facts.Select(f => new PendingFact(f))], cancellation);
            await snapshot.CommitAsync(cancellation);
        }

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
}
