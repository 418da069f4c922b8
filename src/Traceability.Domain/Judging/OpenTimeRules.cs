using Traceability.Domain.Primitives;

namespace Traceability.Domain.Judging;

/// <summary>Maxima that are the open time of what was applied at the start: by the readings, or the fixed maximum where none tell.</summary>
/// <remarks>Judged as a pot life is (<see cref="LifeRules"/>), never in favour of a longer one. Of several items that were applied the worst counts.</remarks>
internal static class OpenTimeRules
{
    private const string Name = "open time";

    /// <summary>Judges the maximum of a rule over an interval.</summary>
    public static LifeJudgement Judge(UnitHistory history, Epoch epoch, IndexedInterval rule, Moment start, Moment end)
    {
        LifeJudgement[] judged = [.. Terms(history, epoch, rule, start).Select(t => LifeRules.Judge(history, t, start, end))];
        return Array.Find(judged, j => j.Verdict == IntervalVerdict.TooLong) ?? Array.Find(judged, j => j.Verdict != IntervalVerdict.Kept) ?? judged[0];
    }

    /// <summary>Until when the parts must be joined, as known at a moment, and what that assumes; null: no time can be told.</summary>
    public static CureForecast Forecast(UnitHistory history, Epoch epoch, IndexedInterval rule, Moment start, DateTimeOffset now) =>
        Terms(history, epoch, rule, start).Select(t => LifeRules.Forecast(history, t, start, now)).MinBy(f => f.ReadyAt ?? DateTimeOffset.MinValue)!;

    /// <summary>The limits of an interval that has not ended.</summary>
    public static LifeLimits Limits(UnitHistory history, Epoch epoch, IndexedInterval rule, Moment start)
    {
        LifeLimits[] limits = [.. Terms(history, epoch, rule, start).Select(t => LifeRules.Limits(history, t, start))];
        return new(
            limits.MinBy(l => l.Forecast.ReadyAt ?? DateTimeOffset.MinValue)!.Forecast,
            limits.Min(l => l.MayBeOverAt),
            limits.Min(l => l.SurelyOverAt));
    }

    // One for each item that was applied; at least one.
    private static LifeTerm[] Terms(UnitHistory history, Epoch epoch, IndexedInterval rule, Moment start)
    {
        var fixedTime = rule.Rule.Maximum ?? TimeSpan.Zero;
        if (CureBasis.Starting(history, epoch, rule, start) is not { Step: { } step } attempt)
        {
            return [Without("no completed record tells what was applied")];
        }

        var serves = attempt.Serves(history);
        ItemNumber[] items = [.. attempt.Record.Materials.OrEmpty().Where((_, u) => serves[u] >= 0 && step.Materials[serves[u]].Code == rule.Rule.OpenTimeOf).Select(u => u.Item).Distinct()];
        return items.Length == 0
            ? [Without($"no {rule.Rule.OpenTimeOf} is recorded")]
            : [.. items.Select(i => history.References.FindItem(i)?.OpenTimeByTemperature is { } table
                ? new LifeTerm(Name, fixedTime, table, attempt.Record.Station)
                : Without($"no table of open times is known of {i}"))];

        LifeTerm Without(string why) => new(Name, fixedTime, null, null) { NoTable = why };
    }
}
