using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Statistics;

namespace Traceability.Domain.Judging;

/// <summary>What the part that comes next may measure: the limits of a characteristic as they are for this unit now.</summary>
/// <param name="Step">The step.</param>
/// <param name="Characteristic">The characteristic.</param>
/// <param name="Name">What is measured, in words.</param>
/// <param name="Unit">UCUM code of the limits.</param>
/// <param name="Lower">The lower limit; null: none.</param>
/// <param name="Upper">The upper limit; null: none.</param>
/// <param name="GuardBand">Taken off both limits (ISO 14253-1).</param>
/// <param name="IsKnown">Whether every value that a limit depends on is recorded.</param>
public sealed record FitWindow(
    StepCode Step, Code Characteristic, string Name, string Unit, WorkedLimit? Lower, WorkedLimit? Upper, decimal GuardBand, bool IsKnown)
{
    /// <summary>Halfway between the limits; null unless both are known.</summary>
    public decimal? Middle => Lower?.Value is { } lower && Upper?.Value is { } upper ? (lower / 2) + (upper / 2) : null;
}

/// <summary>Something that could be taken: a size at hand, or a unit that was measured.</summary>
/// <param name="Name">What it is called: a size's name, or item and serial.</param>
/// <param name="Unit">The unit; null for a size.</param>
/// <param name="Record">The record that its value is from; null for a size.</param>
/// <param name="Value">What it measures, as entered.</param>
/// <param name="StandardUncertainty">The standard uncertainty of the value, in the same unit of measure; null where none is stated.</param>
public sealed record FitCandidate(string Name, UnitKey? Unit, Guid? Record, EnteredQuantity Value, decimal? StandardUncertainty);

/// <summary>A candidate held against the window.</summary>
/// <param name="Candidate">The candidate.</param>
/// <param name="Value">What it measures, in the window's unit; null if it can't be converted.</param>
/// <param name="Margin">How far it is inside the nearer limit, the guard band taken off; negative: outside. Null if it can't be compared.</param>
/// <param name="StandardUncertainty">Of that margin, from the limit's inputs and the candidate's own; null if no margin is.</param>
/// <param name="IsUncertaintyComplete">Whether the candidate and every input of that limit state their uncertainty.</param>
public sealed record RankedCandidate(FitCandidate Candidate, decimal? Value, decimal? Margin, double? StandardUncertainty, bool IsUncertaintyComplete)
{
    /// <summary>Whether it lies within the limits, the guard band taken off.</summary>
    public bool Fits => Margin >= 0;
}

/// <summary>Proposes what fits: which shim, which mate, how much of a filling. A person decides; nothing is recorded.</summary>
/// <remarks>
/// The window is that of the rule which judges the step afterwards, from the values measured by then. Margins carry the
/// propagated standard uncertainty (JCGM 100, 5.1.2, uncorrelated inputs).
/// </remarks>
public static class Fitting
{
    /// <summary>The window of a characteristic if the step were done then; null if the step does not measure it on this unit.</summary>
    public static FitWindow? Window(ProductUnit unit, IReferences references, ReadinessQuestion question, Code characteristic)
    {
        ArgumentNullException.ThrowIfNull(unit);
        ArgumentNullException.ThrowIfNull(references);
        ArgumentNullException.ThrowIfNull(question);
        var history = UnitHistory.Of(unit, references);
        var attempt = Readiness.Hypothetical(history, question);
        if (attempt.Step?.Characteristics.OrEmpty().FirstOrDefault(c => c.Code == characteristic) is not { Unit: { } measure } asked)
        {
            return null;
        }

        var lower = DerivedLimits.Work(history, attempt, asked.Lower, measure);
        var upper = DerivedLimits.Work(history, attempt, asked.Upper, measure);
        return new(
            question.Step,
            characteristic,
            asked.Name,
            measure,
            lower,
            upper,
            asked.GuardBand,
            (lower is null || lower.Value is not null) && (upper is null || upper.Value is not null));
    }

    /// <summary>The value that a unit was measured to have by that time, as a candidate; null if none counts.</summary>
    public static FitCandidate? Measured(ProductUnit unit, StepCode step, Code characteristic, DateTimeOffset by)
    {
        ArgumentNullException.ThrowIfNull(unit);
        return LimitValue.TryComponent(unit, by, new(1m, null, step, characteristic), out var measurement, out var record)
            ? new(unit.Key.ToString(), unit.Key, record, new(measurement.Value, measurement.Unit), measurement.StandardUncertainty)
            : null;
    }

    /// <summary>The candidates, the one with the largest margin first; those that can't be compared last. Equal margins by name.</summary>
    public static ImmutableArray<RankedCandidate> Rank(FitWindow window, IEnumerable<FitCandidate> candidates)
    {
        ArgumentNullException.ThrowIfNull(window);
        ArgumentNullException.ThrowIfNull(candidates);
        return
        [
            .. candidates.Select(c => Hold(window, c))
                .OrderByDescending(r => r.Margin is not null)
                .ThenByDescending(r => r.Margin)
                .ThenBy(r => r.Candidate.Name, StringComparer.Ordinal),
        ];
    }

    private static RankedCandidate Hold(FitWindow window, FitCandidate candidate)
    {
        if (!Values.TryConvert(candidate.Value.Value, candidate.Value.Unit, window.Unit, out var value))
        {
            return new(candidate, null, null, null, IsUncertaintyComplete: false);
        }

        if (!window.IsKnown || (window.Lower is null && window.Upper is null))
        {
            return new(candidate, value, null, null, IsUncertaintyComplete: false);
        }

        var spread = Spread(candidate, window.Unit);
        WorkedLimit? nearer = null;
        decimal? margin = null;
        foreach (var (limit, sign) in new[] { (window.Lower, 1m), (window.Upper, -1m) })
        {
            if (limit?.Value is { } set && Values.TryAdd(value, -set, out var distance) && Values.TryAdd(sign * distance, -window.GuardBand, out var inside)
                && (margin is null || inside < margin))
            {
                (nearer, margin) = (limit, inside);
            }
        }

        return nearer is null
            ? new(candidate, value, null, null, IsUncertaintyComplete: false)
            : new(
                candidate,
                value,
                margin,
                PropagatedUncertainty.Combine([nearer.StandardUncertainty ?? 0, (double)(spread ?? 0)]),
                nearer.IsUncertaintyComplete && spread is not null);
    }

    private static decimal? Spread(FitCandidate candidate, string unit) =>
        candidate.StandardUncertainty is { } entered && Values.TryConvert(entered, candidate.Value.Unit, unit, out var there)
        && Values.TryConvert(0m, candidate.Value.Unit, unit, out var zero)
        && Values.TryAdd(there, -zero, out var spread)
            ? spread
            : null;
}
