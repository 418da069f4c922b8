namespace Traceability.Domain.Facts;

/// <summary>A fact as judgements see it.</summary>
/// <param name="Id">The id of the fact as first reported; it stays when the content is corrected.</param>
/// <param name="Fact">The content that counts: as reported, or as corrected.</param>
/// <param name="RecordedAt">When the first report was stored.</param>
/// <param name="IsVoided">The fact no longer counts; kept, since it may hide what happened.</param>
/// <param name="Corrections">Ids of the corrections and voids that name it and count, oldest first.</param>
public sealed record EffectiveFact(
    Guid Id, Fact Fact, DateTimeOffset RecordedAt, bool IsVoided, ImmutableArray<Guid> Corrections)
{
    /// <summary>When it happened, corrected by the clock's measured offset.</summary>
    public DateTimeOffset At => Fact.At;

    /// <summary>How far <see cref="At"/> may be off, either way.</summary>
    public TimeSpan Uncertainty => Fact.Clock.Uncertainty;
}

/// <summary>Turns the facts of a stream into what counts: corrections and voids applied, ordered by when it happened.</summary>
/// <remarks>
/// The result depends on the set of facts only, never on the order in which they arrived. Of several corrections
/// of one fact the one that happened last counts (ties by id); a void wins over every correction; a void or a
/// correction that is itself voided counts for nothing, so a reversal leaves everything as it was.
/// </remarks>
public static class EffectiveFacts
{
    /// <summary>Applies corrections and voids. Total: a reference to a fact that isn't there changes nothing.</summary>
    public static ImmutableArray<EffectiveFact> Of(ImmutableArray<RecordedFact> facts)
    {
        // Most streams have no correction at all, and this runs for every fact that arrives.
        var changes = facts.Where(IsChange).ToArray();
        var result = ImmutableArray.CreateBuilder<EffectiveFact>(facts.Length - changes.Length);
        if (changes.Length == 0)
        {
            foreach (var recorded in facts)
            {
                result.Add(new(recorded.Id, recorded.Fact, recorded.RecordedAt, IsVoided: false, []));
            }
        }
        else
        {
            Array.Sort(changes, static (a, b) => Compare(a.Fact.At, a.Id, b.Fact.At, b.Id));
            var standing = Standing(changes);
            foreach (var recorded in facts)
            {
                if (!IsChange(recorded))
                {
                    result.Add(Apply(recorded, standing));
                }
            }
        }

        result.Sort(static (a, b) => Compare(a.At, a.Id, b.At, b.Id));
        return result.DrainToImmutable();
    }

    /// <summary>
    /// What counts with one more fact, from what counted before, so that it isn't all made anew for each fact that arrives; null where
    /// that can't be told from it: where something is corrected or voided.
    /// </summary>
    /// <param name="before">What counted before.</param>
    /// <param name="facts">The facts before, in any order.</param>
    /// <param name="happened">The further fact.</param>
    internal static ImmutableArray<EffectiveFact>? With(ImmutableArray<EffectiveFact> before, ImmutableArray<RecordedFact> facts, RecordedFact happened)
    {
        // A correction may have arrived before what it corrects.
        if (IsChange(happened) || facts.Any(IsChange))
        {
            return null;
        }

        var place = before.Length;
        while (place > 0 && Compare(before[place - 1].At, before[place - 1].Id, happened.Fact.At, happened.Id) > 0)
        {
            place--;
        }

        return before.Insert(place, new(happened.Id, happened.Fact, happened.RecordedAt, IsVoided: false, []));
    }

    /// <summary>The order of judgements: by when it happened, then by id, so that it is total.</summary>
    public static int Compare(DateTimeOffset atA, Guid idA, DateTimeOffset atB, Guid idB)
    {
        var byTime = atA.CompareTo(atB);
        return byTime != 0 ? byTime : idA.CompareTo(idB);
    }

    private static bool IsChange(RecordedFact recorded) => recorded.Fact is RecordCorrected or RecordVoided;

    // The changes that are not voided themselves. A void names an earlier record, so a change's standing depends on
    // the voids that name it; a chain that runs in a circle can't be made by an honest sender and counts as voided.
    private static List<RecordedFact> Standing(RecordedFact[] changes)
    {
        var voidsOf = changes.Where(c => c.Fact is RecordVoided).ToLookup(c => ((RecordVoided)c.Fact).Record);
        var known = new Dictionary<Guid, bool>();
        return [.. changes.Where(c => Stands(c.Id))];

        bool Stands(Guid id)
        {
            if (known.TryGetValue(id, out var stands))
            {
                return stands;
            }

            known[id] = false;
            stands = !voidsOf[id].Any(v => Stands(v.Id));
            known[id] = stands;
            return stands;
        }
    }

    private static EffectiveFact Apply(RecordedFact recorded, List<RecordedFact> standing)
    {
        var content = recorded.Fact;
        var voided = false;
        var applied = ImmutableArray.CreateBuilder<Guid>();
        foreach (var change in standing)
        {
            switch (change.Fact)
            {
                case RecordCorrected c when c.Record == recorded.Id:
                    content = c.Replacement;
                    applied.Add(change.Id);
                    break;
                case RecordVoided v when v.Record == recorded.Id:
                    voided = true;
                    applied.Add(change.Id);
                    break;
            }
        }

        return new(recorded.Id, content, recorded.RecordedAt, voided, applied.ToImmutable());
    }
}
