using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;

namespace Traceability.Domain.Judging;

/// <summary>Characteristics: every required one present, in a unit of the right dimension, within its limits.</summary>
internal static class CharacteristicRules
{
    public static void Judge(UnitHistory history, Attempt attempt, FindingSink sink)
    {
        var characteristics = attempt.Step!.Characteristics.OrEmpty();
        var measured = attempt.Record.Measurements.OrEmpty().Length;
        attempt.MeasuredWithin = measured == 0 ? [] : new bool?[measured];
        foreach (var characteristic in characteristics)
        {
            var found = characteristic.IsCheck
                ? JudgeChecks(attempt, characteristic, sink)
                : JudgeMeasurements(history, attempt, characteristic, sink);
            if (found || characteristic.IsRequired)
            {
                attempt.Opportunities++;
            }

            if (!found && characteristic.IsRequired)
            {
                attempt.IsUnproven = true;
                sink.Add(attempt, FindingKinds.CharacteristicNotRecorded, characteristic.Code.ToString(), characteristic.Policy, $"{characteristic.Code} ({characteristic.Name}) is not recorded.");
            }
        }

        Unasked(attempt, characteristics, sink);
    }

    /// <summary>Whether the record has the characteristic in the form that it is asked for: a value, or a check.</summary>
    public static bool IsRecorded(Attempt attempt, Characteristic characteristic)
    {
        foreach (var check in attempt.Record.Checks.OrEmpty())
        {
            if (characteristic.IsCheck && check.Characteristic == characteristic.Code)
            {
                return true;
            }
        }

        foreach (var measurement in attempt.Record.Measurements.OrEmpty())
        {
            if (!characteristic.IsCheck && measurement.Characteristic == characteristic.Code)
            {
                return true;
            }
        }

        return false;
    }

    private static bool JudgeChecks(Attempt attempt, Characteristic characteristic, FindingSink sink)
    {
        var found = false;
        foreach (var check in attempt.Record.Checks.OrEmpty())
        {
            if (check.Characteristic == characteristic.Code)
            {
                found = true;
                if (!check.Passed)
                {
                    attempt.IsUnproven = true;
                    sink.Add(attempt, FindingKinds.CheckFailed, characteristic.Code.ToString(), characteristic.Policy, $"{characteristic.Code} ({characteristic.Name}) failed.");
                }
            }
        }

        return found;
    }

    private static bool JudgeMeasurements(UnitHistory history, Attempt attempt, Characteristic characteristic, FindingSink sink)
    {
        var found = false;
        var measurements = attempt.Record.Measurements.OrEmpty();
        for (var m = 0; m < measurements.Length; m++)
        {
            if (measurements[m].Characteristic == characteristic.Code)
            {
                found = true;
                attempt.MeasuredWithin[m] = JudgeValue(history, attempt, characteristic, measurements[m], sink);
            }
        }

        return found;
    }

    // Whether it is within its limits; null where that can't be judged or isn't shown.
    private static bool? JudgeValue(UnitHistory history, Attempt attempt, Characteristic characteristic, Measurement measurement, FindingSink sink)
    {
        var rule = characteristic.Code.ToString();
        var unit = characteristic.Unit;
        if (!Values.TryCompare(measurement.Value, measurement.Unit, 0m, unit, out _))
        {
            attempt.IsUnproven = true;
            sink.Add(
                attempt,
                FindingKinds.ValueWrongDimension,
                rule,
                characteristic.Policy,
                $"{measurement.Value} {measurement.Unit} of {characteristic.Code} can't be compared with limits in {unit}.",
                ("recorded", Say.Value(measurement.Value, measurement.Unit)),
                ("unit", unit!));
            return null;
        }

        if (!LimitValue.TryDerive(history, attempt, characteristic.Lower, unit, out var lower)
            || !LimitValue.TryDerive(history, attempt, characteristic.Upper, unit, out var upper))
        {
            attempt.IsUnproven = true;
            sink.Add(attempt, FindingKinds.LimitNotDerivable, rule, characteristic.Policy, $"A limit of {characteristic.Code} depends on a value that is not recorded.", ("recorded", Say.Value(measurement.Value, measurement.Unit)));
            return null;
        }

        if (IsBelow(measurement, lower, 0m, unit) || IsAbove(measurement, upper, 0m, unit))
        {
            attempt.IsUnproven = true;
            Report(FindingKinds.ValueOutOfLimits, "is outside its limits");
            return false;
        }

        if (characteristic.GuardBand > 0m
            && (IsBelow(measurement, lower, characteristic.GuardBand, unit) || IsAbove(measurement, upper, -characteristic.GuardBand, unit)))
        {
            // ISO 14253-1, 5.3: within the measurement uncertainty of a limit neither conformity nor nonconformity is proven.
            attempt.IsUnproven = true;
            Report(FindingKinds.ValueInGuardBand, "is within its limits, but closer to one than the guard band");
            return null;
        }

        return true;

        void Report(string kind, string what) => sink.Add(
            attempt,
            kind,
            rule,
            characteristic.Policy,
            $"{characteristic.Code} ({characteristic.Name}) of {Say.Value(measurement.Value, measurement.Unit)} {what}: {Text(lower, unit)} to {Text(upper, unit)}.",
            [
                ("recorded", Say.Value(measurement.Value, measurement.Unit)),
                ("lower", Text(lower, unit)),
                ("upper", Text(upper, unit)),
                ("guard-band", Say.Value(characteristic.GuardBand, unit)),
                .. LimitValue.Evidence(history, attempt, characteristic),
            ]);
    }

    private static bool IsBelow(Measurement measurement, decimal? limit, decimal inward, string? unit) =>
        limit is { } set && Values.TryAdd(set, inward, out var bound)
        && Values.TryCompare(measurement.Value, measurement.Unit, bound, unit, out var order) && order < 0;

    private static bool IsAbove(Measurement measurement, decimal? limit, decimal inward, string? unit) =>
        limit is { } set && Values.TryAdd(set, inward, out var bound)
        && Values.TryCompare(measurement.Value, measurement.Unit, bound, unit, out var order) && order > 0;

    private static string Text(decimal? limit, string? unit) => limit is { } set ? Say.Value(set, unit) : "none";

    private static void Unasked(Attempt attempt, ImmutableArray<Characteristic> characteristics, FindingSink sink)
    {
        foreach (var measurement in attempt.Record.Measurements.OrEmpty())
        {
            if (!IsAsked(characteristics, measurement.Characteristic, isCheck: false))
            {
                Report(measurement.Characteristic);
            }
        }

        foreach (var check in attempt.Record.Checks.OrEmpty())
        {
            if (!IsAsked(characteristics, check.Characteristic, isCheck: true))
            {
                Report(check.Characteristic);
            }
        }

        void Report(Code code) => sink.Add(attempt, FindingKinds.CharacteristicNotRequired, code.ToString(), null, $"Step {attempt.Record.Step} does not ask for {code} in this form.");
    }

    private static bool IsAsked(ImmutableArray<Characteristic> characteristics, Code code, bool isCheck)
    {
        foreach (var characteristic in characteristics)
        {
            if (characteristic.Code == code)
            {
                return characteristic.IsCheck == isCheck;
            }
        }

        return false;
    }
}
