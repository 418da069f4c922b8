using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;

namespace Traceability.Domain.Judging;

/// <summary>One recorded value that a limit is derived from.</summary>
/// <param name="Term">The term of the limit.</param>
/// <param name="Unit">The unit that it was measured on.</param>
/// <param name="Record">The record that holds it.</param>
/// <param name="Measurement">The value as entered.</param>
/// <param name="Contribution">What it adds to the limit: factor times value, in the limit's unit.</param>
/// <param name="UncertaintyContribution">Factor times standard uncertainty, in the limit's unit; null where none is stated.</param>
public sealed record LimitInput(
    LimitTerm Term, UnitKey Unit, Guid Record, Measurement Measurement, decimal Contribution, decimal? UncertaintyContribution);

/// <summary>The value of a limit for one attempt: fixed, or derived from values measured by then.</summary>
internal static class LimitValue
{
    /// <summary>The limit in the unit; null where none is set. False if a value that it depends on isn't recorded.</summary>
    /// <param name="history">The unit.</param>
    /// <param name="attempt">The attempt whose limit it is.</param>
    /// <param name="limit">The limit.</param>
    /// <param name="unit">The unit of the limit.</param>
    /// <param name="value">The value.</param>
    /// <param name="inputs">Takes the recorded values that it is derived from; null: not asked.</param>
    public static bool TryDerive(UnitHistory history, Attempt attempt, Limit? limit, string? unit, out decimal? value, List<LimitInput>? inputs = null)
    {
        value = null;
        if (limit is null)
        {
            return true;
        }

        var sum = limit.Constant;
        foreach (var term in limit.Terms.OrEmpty())
        {
            if (!TryMeasured(history, attempt, term, out var measurement, out var source)
                || !Values.TryConvert(measurement.Value, measurement.Unit, unit, out var converted)
                || !Values.TryMultiply(term.Factor, converted, out var product)
                || !Values.TryAdd(sum, product, out sum))
            {
                return false;
            }

            inputs?.Add(new(term, source.Unit, source.Record, measurement, product, Spread(term, measurement, unit)));
        }

        value = sum;
        return true;
    }

    /// <summary>For a finding: what each derived limit rests on; nothing for fixed limits.</summary>
    public static (string Name, string Text)[] Evidence(UnitHistory history, Attempt attempt, Characteristic characteristic)
    {
        if (characteristic is { Lower: null or { Terms.IsDefaultOrEmpty: true }, Upper: null or { Terms.IsDefaultOrEmpty: true } })
        {
            return [];
        }

        var inputs = new List<LimitInput>();
        TryDerive(history, attempt, characteristic.Lower, characteristic.Unit, out _, inputs);
        TryDerive(history, attempt, characteristic.Upper, characteristic.Unit, out _, inputs);
        return [.. inputs.Select(i => ("limit-input", $"{i.Unit} {i.Term.Step}/{i.Term.Characteristic} = {Say.Value(i.Measurement.Value, i.Measurement.Unit)}, record {i.Record}")).Distinct()];
    }

    // An uncertainty is a difference of two values, and converts as one: nothing but the scale of the unit counts.
    private static decimal? Spread(LimitTerm term, Measurement measurement, string? unit) =>
        measurement.StandardUncertainty is { } spread
        && Values.TryConvert(spread, measurement.Unit, unit, out var there) && Values.TryConvert(0m, measurement.Unit, unit, out var zero)
        && Values.TryAdd(there, -zero, out var converted) && Values.TryMultiply(term.Factor, converted, out var product)
            ? product
            : null;

    private static bool TryMeasured(UnitHistory history, Attempt attempt, LimitTerm term, out Measurement measurement, out (UnitKey Unit, Guid Record) source)
    {
        if (term.Position is not { } position)
        {
            source = (history.Unit.Key, Guid.Empty);
            return TryOwn(history, attempt, term, out measurement, out source.Record);
        }

        measurement = default!;
        source = default;
        if (history.Installed.At(position, attempt.At) is not { } fitted || history.References.FindUnit(fitted.Component) is not { } unit)
        {
            return false;
        }

        source.Unit = fitted.Component;
        return TryComponent(unit, attempt.At, term, out measurement, out source.Record);
    }

    // The latest value that counts by the completion of the step that is judged; that step's own record included.
    private static bool TryOwn(UnitHistory history, Attempt attempt, LimitTerm term, out Measurement measurement, out Guid record)
    {
        record = attempt.Id;
        if (attempt.Record.Step == term.Step && TryFind(attempt.Record, term.Characteristic, out measurement))
        {
            return true;
        }

        var attempts = history.FindTrack(term.Step)?.Attempts;
        for (var i = (attempts?.Count ?? 0) - 1; i >= 0; i--)
        {
            var other = attempts![i];
            if (other.At <= attempt.At && history.Counts(other, attempt.Epoch) && TryFind(other.Record, term.Characteristic, out measurement))
            {
                record = other.Id;
                return true;
            }
        }

        measurement = default!;
        return false;
    }

    /// <summary>The latest value on a unit by that time that counts.</summary>
    public static bool TryComponent(ProductUnit unit, DateTimeOffset by, LimitTerm term, out Measurement measurement, out Guid record)
    {
        record = Guid.Empty;
        var facts = unit.Effective;
        for (var i = facts.Length - 1; i >= 0; i--)
        {
            if (facts[i] is { IsVoided: false, Fact: StepCompleted completed } && completed.Step == term.Step
                && facts[i].At <= by && TryFind(completed, term.Characteristic, out measurement))
            {
                record = facts[i].Id;
                return true;
            }
        }

        measurement = default!;
        return false;
    }

    private static bool TryFind(StepCompleted record, Code characteristic, out Measurement measurement)
    {
        var measurements = record.Measurements.OrEmpty();
        for (var i = measurements.Length - 1; i >= 0; i--)
        {
            if (measurements[i].Characteristic == characteristic)
            {
                measurement = measurements[i];
                return true;
            }
        }

        measurement = default!;
        return false;
    }
}
