using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;
using Traceability.Domain.Statistics;

namespace Traceability.Domain.Judging;

/// <summary>One limit as worked out for a unit.</summary>
/// <param name="Value">Its value in the characteristic's unit; null while a value that it depends on is not recorded.</param>
/// <param name="StandardUncertainty">Its combined standard uncertainty from those stated of its inputs; null while the limit is not known.</param>
/// <param name="IsUncertaintyComplete">Whether every input states its uncertainty; one that doesn't counts as exact.</param>
/// <param name="Inputs">The recorded values that it is derived from; empty for a fixed limit.</param>
public sealed record WorkedLimit(decimal? Value, double? StandardUncertainty, bool IsUncertaintyComplete, ImmutableArray<LimitInput> Inputs);

/// <summary>The limits of one characteristic at one attempt, with what they were derived from.</summary>
/// <param name="Step">The step.</param>
/// <param name="Attempt">The attempt, from 1.</param>
/// <param name="Record">The fact that completed it.</param>
/// <param name="Characteristic">The characteristic.</param>
/// <param name="Unit">UCUM code of the limits.</param>
/// <param name="Lower">The lower limit; null: none.</param>
/// <param name="Upper">The upper limit; null: none.</param>
public sealed record AttemptLimits(StepCode Step, int Attempt, Guid Record, Code Characteristic, string Unit, WorkedLimit? Lower, WorkedLimit? Upper);

/// <summary>What the derived limits of a unit rest on: which records, which values. A function of the facts, like the judgement itself.</summary>
public static class DerivedLimits
{
    /// <summary>The derived limits of every completed attempt, by when it was completed; fixed limits are left out.</summary>
    public static ImmutableArray<AttemptLimits> Of(ProductUnit unit, IReferences references)
    {
        ArgumentNullException.ThrowIfNull(unit);
        ArgumentNullException.ThrowIfNull(references);
        var history = UnitHistory.Of(unit, references);
        var limits = ImmutableArray.CreateBuilder<AttemptLimits>();
        foreach (var attempt in history.Attempts)
        {
            foreach (var characteristic in attempt.Step?.Characteristics.OrEmpty() ?? [])
            {
                if (characteristic.Unit is { } measure && (IsDerived(characteristic.Lower) || IsDerived(characteristic.Upper)))
                {
                    limits.Add(new(
                        attempt.Record.Step,
                        attempt.Number,
                        attempt.Id,
                        characteristic.Code,
                        measure,
                        Work(history, attempt, characteristic.Lower, measure),
                        Work(history, attempt, characteristic.Upper, measure)));
                }
            }
        }

        return limits.ToImmutable();
    }

    /// <summary>One limit for one attempt; null where none is set.</summary>
    internal static WorkedLimit? Work(UnitHistory history, Attempt attempt, Limit? limit, string unit)
    {
        if (limit is null)
        {
            return null;
        }

        var inputs = new List<LimitInput>();
        if (!LimitValue.TryDerive(history, attempt, limit, unit, out var value, inputs))
        {
            return new(null, null, IsUncertaintyComplete: false, [.. inputs]);
        }

        // One value that enters by two terms is one input: its two parts don't vary apart.
        var contributions = inputs
            .GroupBy(i => (i.Unit, i.Record, i.Term.Characteristic))
            .Select(g => g.Sum(i => (double)(i.UncertaintyContribution ?? 0m)));
        return new(value, PropagatedUncertainty.Combine(contributions), inputs.TrueForAll(i => i.UncertaintyContribution is not null), [.. inputs]);
    }

    private static bool IsDerived(Limit? limit) => limit is { Terms.IsDefaultOrEmpty: false };
}
