using Traceability.Domain.Facts;

namespace Traceability.Domain.ProductUnits;

/// <summary>A unit as it was: what had happened by a moment, or what was known at a moment.</summary>
/// <remarks>
/// The two axes are independent. By what happened, corrections count whenever they were made, since they tell what was so then.
/// By what was known, a correction counts from when it was recorded.
/// </remarks>
public static class AsOf
{
    /// <summary>The unit with the facts that had happened by that moment, as they are known now.</summary>
    public static ProductUnit Happened(ProductUnit unit, DateTimeOffset at)
    {
        ArgumentNullException.ThrowIfNull(unit);
        return Keep(unit, f => f.At <= at);
    }

    /// <summary>The unit with the facts that had been recorded by that moment.</summary>
    public static ProductUnit Known(ProductUnit unit, DateTimeOffset recordedAt)
    {
        ArgumentNullException.ThrowIfNull(unit);
        return ProductUnit.Of(unit.Key, unit.Facts.Where(f => f.RecordedAt <= recordedAt));
    }

    /// <summary>The unit as it was just before one of its facts, in the order of judgements.</summary>
    /// <remarks>
    /// Work whose completion lies within its clock's uncertainty after the fact counts as before: it may have been, and a terminal
    /// whose clock is a second ahead must not make a release look as if the last step had been left out.
    /// </remarks>
    public static ProductUnit Before(ProductUnit unit, EffectiveFact fact)
    {
        ArgumentNullException.ThrowIfNull(unit);
        ArgumentNullException.ThrowIfNull(fact);
        return Keep(unit, f => f.Id != fact.Id && EffectiveFacts.Compare(Earliest(f), f.Id, fact.At, fact.Id) < 0);
    }

    private static DateTimeOffset Earliest(EffectiveFact fact) =>
        fact.Fact is StepCompleted or ComponentInstalled && fact.Uncertainty > TimeSpan.Zero ? Instant.Shift(fact.At, -fact.Uncertainty) : fact.At;

    // Corrections stay, whenever they were made: they change only the facts that they name.
    private static ProductUnit Keep(ProductUnit unit, Func<EffectiveFact, bool> isKept)
    {
        var kept = unit.Effective.Where(isKept).Select(f => f.Id).ToHashSet();
        return ProductUnit.Of(unit.Key, unit.Facts.Where(f => f.Fact is RecordCorrected or RecordVoided || kept.Contains(f.Id)));
    }
}
