namespace Traceability.Domain.Judging;

/// <summary>What the records of a unit say was measured and checked.</summary>
internal static class MeasuredValueList
{
    public static ImmutableArray<MeasuredValue> Of(UnitHistory history)
    {
        ImmutableArray<MeasuredValue>.Builder? values = null;
        foreach (var attempt in history.Attempts)
        {
            var measurements = attempt.Record.Measurements.OrEmpty();
            for (var m = 0; m < measurements.Length; m++)
            {
                var measured = measurements[m];
                if (measured.Characteristic == default)
                {
                    continue;
                }

                // A step that the revision doesn't have has no limits, and neither has one that was never judged.
                (values ??= ImmutableArray.CreateBuilder<MeasuredValue>()).Add(new(
                    attempt.Record.Step,
                    attempt.Number,
                    attempt.Id,
                    measured.Characteristic,
                    new(measured.Value, measured.Unit),
                    measured.StandardUncertainty,
                    m < attempt.MeasuredWithin.Length ? attempt.MeasuredWithin[m] : null,
                    attempt.Earliest,
                    attempt.Latest,
                    attempt.Record.Station));
            }

            foreach (var check in attempt.Record.Checks.OrEmpty())
            {
                if (check.Characteristic == default)
                {
                    continue;
                }

                (values ??= ImmutableArray.CreateBuilder<MeasuredValue>()).Add(new(
                    attempt.Record.Step,
                    attempt.Number,
                    attempt.Id,
                    check.Characteristic,
                    null,
                    null,
                    check.Passed,
                    attempt.Earliest,
                    attempt.Latest,
                    attempt.Record.Station));
            }
        }

        return values?.DrainToImmutable() ?? [];
    }
}
