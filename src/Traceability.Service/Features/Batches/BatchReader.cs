using System.Globalization;
using Npgsql;
using NpgsqlTypes;
using Traceability.Contracts.Batches;
using Traceability.Contracts.Facts;
using Traceability.Domain.Batches;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Service.Storage;
using Traceability.Service.Storage.Answers;
using Ended = Traceability.Domain.Batches.BatchEnded;
using StepCompleted = Traceability.Domain.Batches.BatchStepCompleted;
using StepStarted = Traceability.Domain.Batches.BatchStepStarted;

namespace Traceability.Service.Features.Batches;

/// <summary>Answers questions about batches, each from one snapshot of the database.</summary>
internal sealed class BatchReader(AnswerDatabase database)
{
    private const string Overdrawn = "batch-overdrawn";

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
        return View(batch, await UnitsAsync(session.Connection, key, cancellation));
    }

    // Units that looked at it; an opening that was corrected since may name another one.
    private static async Task<List<UnitKey>> UnitsAsync(NpgsqlConnection connection, BatchKey key, CancellationToken cancellation)
    {
        var named = new List<UnitKey>();
        await using (var command = new NpgsqlCommand("select unit from traceability.dependency where subject = $1 order by unit collate \"C\"", connection)
        {
            Parameters = { new() { Value = StreamNames.Of(key), NpgsqlDbType = NpgsqlDbType.Text } },
        })
        {
            await using var reader = await command.ExecuteReaderAsync(cancellation);
            while (await reader.ReadAsync(cancellation))
            {
                named.Add(UnitKey.Parse(reader.GetString(0)));
            }
        }

        var facts = await EventReader.LoadAsync(connection, [.. named.Select(StreamNames.Of)], cancellation);
        return [.. named.Where(u => facts.TryGetValue(StreamNames.Of(u), out var own) && ProductUnit.Of(u, own).Opened is { } opened && BatchRecords.Of(opened) == key)];
    }

    private static BatchView View(Batch batch, List<UnitKey> units)
    {
        var ended = batch.Effective.LastOrDefault(f => f is { IsVoided: false, Fact: Ended });
        var scrapped = (ended?.Fact as Ended)?.Scrapped;
        var left = units.Count + (scrapped ?? 0);
        return new(
            batch.Key.Item.Value,
            batch.Key.Batch.Value,
            batch.Formed?.Count,
            batch.Formed?.Lot?.Value,
            batch.Forming?.At.ToUniversalTime(),
            ended?.At.ToUniversalTime(),
            scrapped,
            [.. batch.Effective.Select(Step).OfType<BatchStep>()],
            [.. units.Select(u => new UnitRef { Item = u.Item.Value, Serial = u.Serial.Value })],
            batch.Formed is { } formed && left > formed.Count
                ? [new(Overdrawn, string.Create(CultureInfo.InvariantCulture, $"{units.Count} units were taken out of it and {scrapped ?? 0} parts thrown away by record; it was formed of {formed.Count}."))]
                : []);
    }

    private static BatchStep? Step(EffectiveFact fact) => fact.Fact switch
    {
        StepStarted s => new(fact.Id, "started", s.Step.Value, fact.At.ToUniversalTime(), s.Station?.Value, s.Person?.Value, fact.IsVoided),
        StepCompleted s => new(fact.Id, "completed", s.Step.Value, fact.At.ToUniversalTime(), s.Station?.Value, s.Person?.Value, fact.IsVoided),
        _ => null,
    };
}
