using Traceability.Domain.Batches;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;

namespace Traceability.Domain.Judging;

/// <summary>What was recorded of a batch, as records of a unit that came out of it.</summary>
/// <remarks>
/// Everything that was done to the batch until the unit was taken out of it was done to the unit, so it is judged as if the record had
/// been its own: same id, time, clock, place and person. What the clocks leave open counts as before: a record too many widens a
/// scope, one too few would narrow it. What happened to the batch later is not the unit's.
/// </remarks>
public static class BatchRecords
{
    /// <summary>The batch that a unit's opening names; null for none.</summary>
    public static BatchKey? Of(UnitOpened opened)
    {
        ArgumentNullException.ThrowIfNull(opened);
        return opened.Batch is { } batch && batch != default ? new(opened.Unit.Item, batch) : null;
    }

    /// <summary>The unit's own facts with those of its batch and of what that was split off, ordered by when they happened.</summary>
    /// <param name="own">The unit's facts.</param>
    /// <param name="unit">The unit.</param>
    /// <param name="chain">The batches.</param>
    /// <param name="opening">The opening that names the first.</param>
    public static ImmutableArray<EffectiveFact> Merge(ImmutableArray<EffectiveFact> own, UnitKey unit, ImmutableArray<BatchLink> chain, EffectiveFact opening)
    {
        ArgumentNullException.ThrowIfNull(opening);
        var merged = ImmutableArray.CreateBuilder<EffectiveFact>();
        merged.AddRange(own);
        foreach (var link in chain)
        {
            foreach (var fact in link.Batch.Effective)
            {
                if (MayBeBefore(fact, opening) && link.Splits.All(s => MayBeBefore(fact, s)) && AsOwn(unit, fact.Fact) is { } record)
                {
                    merged.Add(fact with { Fact = record });
                }
            }
        }

        merged.Sort(static (a, b) => EffectiveFacts.Compare(a.At, a.Id, b.At, b.Id));
        return merged.DrainToImmutable();
    }

    /// <summary>Whether the clocks leave it open that a fact was before another one, or it was.</summary>
    public static bool MayBeBefore(EffectiveFact fact, EffectiveFact other)
    {
        ArgumentNullException.ThrowIfNull(fact);
        ArgumentNullException.ThrowIfNull(other);
        return fact.At <= Instant.Shift(other.At, Instant.Sum(UnitHistory.UncertaintyOf(fact), UnitHistory.UncertaintyOf(other)));
    }

    /// <summary>A record of a batch as one of a unit; null for a fact that isn't about a step.</summary>
    public static Fact? AsOwn(UnitKey unit, Fact fact) => fact switch
    {
        BatchStepStarted s => new StepStarted(unit, s.Step) { OccurredAt = s.OccurredAt, Clock = s.Clock, Station = s.Station, Person = s.Person, SentBy = s.SentBy },
        BatchStepCompleted s => new StepCompleted(unit, s.Step, s.StartedAt, s.IsRework, s.Marks, s.Materials, s.Tools, s.Measurements, s.Checks, [], [], s.Note)
        {
            OccurredAt = s.OccurredAt, Clock = s.Clock, Station = s.Station, Person = s.Person, SentBy = s.SentBy,
        },
        RecordCorrected c => AsOwn(unit, c.Replacement),
        _ => null,
    };
}
