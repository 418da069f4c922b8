using System.Globalization;
using Npgsql;
using Traceability.Contracts.Batches;
using Traceability.Contracts.Facts;
using Traceability.Domain.Batches;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Service.Storage;
using Traceability.Service.Storage.Answers;
using Ended = Traceability.Domain.Batches.BatchEnded;
using StepCompleted = Traceability.Domain.Batches.BatchStepCompleted;
using StepStarted = Traceability.Domain.Batches.BatchStepStarted;

namespace Traceability.Service.Features.Batches;

/// <summary>Answers questions about batches, each from one snapshot of the database.</summary>
internal sealed class BatchReader(AnswerDatabase database, ReferenceCache cache)
{
    /// <summary>The batch; null if nobody formed it.</summary>
    public async Task<BatchView?> FindAsync(BatchKey key, CancellationToken cancellation)
    {
        await using var session = await database.OpenAsync(cancellation);
        var stream = StreamNames.Of(key);
        if (!(await EventReader.LoadAsync(session.Connection, [stream], cancellation)).TryGetValue(stream, out var facts))
        {
            return null;
        }

        var batch = Batch.Of(key, facts);
        var known = (await cache.GetAsync(session.Connection, await ReferenceCache.SeqAsync(session.Connection, cancellation), [stream], cancellation)).References;
        return View(batch, known, await UnitsAsync(session.Connection, key, cancellation));
    }

    // Units that looked at it; an opening that was corrected since may name another one.
    private static async Task<List<UnitKey>> UnitsAsync(NpgsqlConnection connection, BatchKey key, CancellationToken cancellation) =>
        [.. (await BatchTaking.UnitsOfAsync(connection, [key], cancellation))[key].Select(t => t.Unit).OrderBy(u => u.ToString(), StringComparer.Ordinal)];

    private static BatchView View(Batch batch, References known, List<UnitKey> units)
    {
        var splits = BatchCounts.SplitOff(batch, known).ToArray();
        var splitOff = splits.Sum(s => (long)s.Count);
        var made = batch.Split is null ? "formed of" : "made of, by its split,";
        return new(
            batch.Key.Item.Value,
            batch.Key.Batch.Value,
            batch.Count,
            batch.Formed?.Lot?.Value,
            batch.Origin?.At.ToUniversalTime(),
            batch.Ending?.At.ToUniversalTime(),
            (batch.Ending?.Fact as Ended)?.Scrapped,
            [.. batch.Effective.Select(Step).OfType<BatchStep>()],
            [.. units.Select(u => new UnitRef { Item = u.Item.Value, Serial = u.Serial.Value })],
            batch.Count is { } count && units.Count + splitOff + batch.Scrapped > count
                ? [new(FindingKinds.BatchOverdrawn, string.Create(CultureInfo.InvariantCulture, $"{units.Count} units were taken out of it, {splitOff} parts split off and {batch.Scrapped} thrown away by record; it was {made} {count}."))]
                : [])
        {
            SplitFrom = batch.Split is { } split ? new(split.Source.Value, batch.Origin!.Id, batch.Origin.At.ToUniversalTime(), split.Count) : null,
            Splits = [.. splits.Select(s => new BatchSplitView(s.Batch.Key.Batch.Value, s.Split.Id, s.Split.At.ToUniversalTime(), s.Count))],
        };
    }

    private static BatchStep? Step(EffectiveFact fact) => fact.Fact switch
    {
        StepStarted s => new(fact.Id, "started", s.Step.Value, fact.At.ToUniversalTime(), s.Station?.Value, s.Person?.Value, fact.IsVoided),
        StepCompleted s => new(fact.Id, "completed", s.Step.Value, fact.At.ToUniversalTime(), s.Station?.Value, s.Person?.Value, fact.IsVoided),
        _ => null,
    };
}
