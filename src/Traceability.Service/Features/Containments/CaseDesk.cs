using System.Data;
using System.Globalization;
using Npgsql;
using Traceability.Domain.Containments;
using Traceability.Domain.Primitives;
using Traceability.Service.Ingest;
using Traceability.Service.Security;
using Traceability.Service.Storage.Containments;
using Traceability.Service.Storage.Scopes;

namespace Traceability.Service.Features.Containments;

/// <summary>What a run of a case's question found.</summary>
/// <param name="Found">The scope.</param>
/// <param name="Difference">What that changed.</param>
internal sealed record CaseRun(FoundScope Found, ContainmentDifference Difference);

/// <summary>Opens cases and runs their questions.</summary>
internal sealed class CaseDesk(NpgsqlDataSource database, IScopeQuestions questions, CaseFacts facts, IIngest ingest, TimeProvider clock)
{
    /// <summary>Opens a case and freezes its scope.</summary>
    /// <returns>How it was stored; or the refusal, with nothing stored.</returns>
    /// <exception cref="CaseNotStoredException">It may or may not be stored.</exception>
    public async Task<(IngestAnswer.Recorded? Opening, Refusal? Refusal)> OpenAsync(AskedContainment asked, Caller caller, CancellationToken cancellation)
    {
        // A suspect of which nothing is known is most likely misspelt: no case is opened on it. One that is there is answered as it was.
        await using (var connection = await database.OpenConnectionAsync(cancellation))
        await using (await connection.BeginTransactionAsync(IsolationLevel.RepeatableRead, cancellation))
        {
            if (!await ContainmentLists.IsKnownAsync(connection, asked.Containment, cancellation)
                && (await questions.AskAsync(connection, asked.Suspect, "/suspect", cancellation)).Refusal is { } unknown)
            {
                return (null, unknown);
            }
        }

        var opened = new ContainmentOpened(asked.Containment, asked.Title, asked.Reason, asked.Question, asked.Suspect.ToString()!, asked.HoldsLate)
        {
            OccurredAt = GroupPlan.Moment(clock), Person = asked.Person, SentBy = caller.Name,
        };
        switch (await ingest.SubmitAsync(new(asked.Id, asked.ContentHash(), opened), cancellation))
        {
            case IngestAnswer.Refused refused:
                return (null, refused.Reason);
            case IngestAnswer.Unavailable later:
                throw new CaseNotStoredException(later);
            case IngestAnswer.Recorded recorded:
                // A repeat takes up what the first time did not come to.
                await RunAsync(asked.Containment, caller.Name, cancellation);
                return (recorded, null);
            default:
                throw new System.Diagnostics.UnreachableException();
        }
    }

    /// <summary>Runs the question of a case and records the difference; null where there is no such case.</summary>
    /// <exception cref="CaseNotStoredException">Some of it may not be stored: the next run takes it up.</exception>
    public async Task<CaseRun?> RunAsync(ContainmentId id, string sender, CancellationToken cancellation)
    {
        await using var connection = await database.OpenConnectionAsync(cancellation);
        await using var alone = await CaseLock.TakeAsync(connection, id, cancellation);
        await using var transaction = await connection.BeginTransactionAsync(IsolationLevel.RepeatableRead, cancellation);
        if (await ContainmentRows.FindAsync(connection, id, cancellation) is not { } containment)
        {
            return null;
        }

        var suspect = questions.Parse(containment.Opened!.Question);
        var (found, refusal) = await questions.AskAsync(connection, suspect, string.Empty, cancellation);
        if (found is null)
        {
            // It was known when the case was opened: a record of it was voided since. Nothing is reached any more.
            found = new(clock.GetUtcNow(), [], CompleteNow, [refusal!.Detail], (_, _) => Task.FromResult<IReadOnlyDictionary<UnitKey, ReachedBy>>(new Dictionary<UnitKey, ReachedBy>()));
        }

        // As the database keeps times.
        found = found with { AsOf = new(found.AsOf.Ticks - (found.AsOf.Ticks % TimeSpan.TicksPerMicrosecond), found.AsOf.Offset) };
        var difference = ContainmentDifference.Of(containment, [.. found.Units.Select(u => new ContainedUnit(u.Unit, u.Verdict, u.Place, null, null))]);
        if (difference.Units.IsEmpty && containment.Runs.Count > 0)
        {
            return new(found, difference);
        }

        var run = containment.Runs.Select(r => r.Run).DefaultIfEmpty().Max() + 1;
        var number = 0;
        foreach (var chunk in difference.Units.Chunk(CaseFacts.UnitsMax))
        {
            var ways = await found.Ways([.. chunk.Where(u => u.Verdict is not null).Select(u => u.Unit)], cancellation);
            var fact = new ContainmentMembersFound(id, run, found.AsOf, [.. chunk.Select(u => ways.TryGetValue(u.Unit, out var way) ? u with { Why = way.Words, Record = way.Record } : u)])
            {
                OccurredAt = found.AsOf, SentBy = sender,
            };
            await StoreAsync(Name(id, run, found.AsOf, $"members {number++}"), fact, cancellation);
        }

        var scoped = new ContainmentScoped(
            id, run, found.AsOf, found.Completeness.IsComplete, found.Units.Length, difference.Added, difference.Changed, difference.NotReached, found.Remarks)
        {
            OccurredAt = found.AsOf, SentBy = sender,
        };
        await StoreAsync(Name(id, run, found.AsOf, "end"), scoped, cancellation);
        return new(found, difference);
    }

    private static Contracts.Completeness CompleteNow { get; } = new(IsComplete: true, 0, [], 0, [], 0);

    private static string Name(ContainmentId id, int run, DateTimeOffset asOf, string part) =>
        string.Create(CultureInfo.InvariantCulture, $"containment {id} run {run} of {asOf.UtcTicks} {part}");

    private async Task StoreAsync(string name, Domain.Facts.Fact fact, CancellationToken cancellation)
    {
        if (await facts.RecordAsync(name, fact, cancellation) is { } refusal)
        {
            throw new InvalidOperationException($"What was found for a case was refused with {refusal.Code}: {refusal.Detail}");
        }
    }
}
