using System.Globalization;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;
using Traceability.Domain.Tools;
using Traceability.Testing.Scope;

namespace Traceability.Domain.Tests.Scope;

/// <summary>What the rows of one unit say of a suspect tool, work, value or interval: for each row every way in which it can truly have been.</summary>
/// <remarks>A way is the minute from which on the unit carries the suspect by that row, or null: the row is not of the suspect.</remarks>
internal static class WorkOracle
{
    private static readonly Code?[] AnySetting = [null, .. RandomWork.Settings.Select(s => (Code?)s)];

    /// <summary>The ways of each row.</summary>
    public static IEnumerable<int?[]> Rows(SingleSuspect suspect, UnitJudgement unit, Tool tool) => suspect switch
    {
        SuspectTool t => Rows(t, unit, tool),
        SuspectWork w => Rows(w, unit),
        SuspectMeasured m => Rows(m, unit),
        SuspectInterval i => Rows(i, unit),
        _ => [],
    };

    private static IEnumerable<int?[]> Rows(SuspectTool suspect, UnitJudgement unit, Tool tool)
    {
        Code?[] settings = suspect.Setting is { } asked ? [asked] : AnySetting;
        var hasWindows = settings.Any(s => Enumerable.Range(-1, RandomGenealogy.Now + 2).Any(m => SuspectWindows.At(tool, s, RandomGenealogy.At(m)) is not null));
        foreach (var use in unit.ToolUsages.Where(u => u.Tool == suspect.Tool))
        {
            yield return Ways(suspect, use.From, use.To, use.Step, use.Station, [], (minute, _) =>
                (use.Setting is { } recorded ? [recorded] : AnySetting).Select(s => IsAt(s, minute)));
        }

        foreach (var gap in unit.WorkGaps.Where(g => g.Kind == WorkGapKind.Tool && g.ToolClass == tool.Definition!.ToolClass))
        {
            yield return [null, .. Ways(suspect, gap.From, gap.To, gap.Step, gap.Station, gap.Stations, (minute, _) => AnySetting.Select(s => IsAt(s, minute)))];
        }

        bool IsAt(Code? setting, int minute)
        {
            var at = RandomGenealogy.At(minute);
            return (suspect.Setting is null || setting == suspect.Setting)
                && (suspect.Times == ToolTimes.All
                    || (hasWindows ? SuspectWindows.At(tool, setting, at) is not null : !(SuspectWindows.LastGood(tool, setting) > at)));
        }
    }

    private static IEnumerable<int?[]> Rows(SuspectWork suspect, UnitJudgement unit)
    {
        if ((suspect.Item is { } item && item != unit.Unit.Item) || (suspect.Variant is { } variant && variant != unit.Status.Variant))
        {
            yield break;
        }

        foreach (var step in unit.Steps.Where(s => suspect.Revision is not { } r || r == s.Revision))
        {
            yield return Ways(suspect, step.Earliest, step.Latest, step.Step, step.Station, [], (_, _) => People(step.Person));
        }

        foreach (var gap in unit.WorkGaps.Where(g => g.Kind == WorkGapKind.Step
            && (suspect.Revision is not { } r || g.Revision is not { } asks || r == asks)))
        {
            yield return [null, .. Ways(suspect, gap.From, gap.To, gap.Step, gap.Station, gap.Stations, (_, _) => People(gap.Person))];
        }

        IEnumerable<bool> People(PersonCode? recorded) =>
            (recorded is { } p ? [p] : RandomWork.People.AsEnumerable()).Select(p => suspect.Person is null || suspect.Person == p);
    }

    private static IEnumerable<int?[]> Rows(SuspectMeasured suspect, UnitJudgement unit)
    {
        if (suspect.Item is { } item && item != unit.Unit.Item)
        {
            yield break;
        }

        foreach (var value in unit.Measurements)
        {
            yield return Ways(suspect, value.From, value.To, value.Step, value.Station, [], (_, _) => Meets(suspect, value));
        }

        foreach (var gap in unit.WorkGaps.Where(g => g.Kind == WorkGapKind.Characteristic))
        {
            yield return [null, .. Ways(suspect, gap.From, gap.To, gap.Step, gap.Station, gap.Stations, (_, _) => [true])];
        }
    }

    private static IEnumerable<bool> Meets(SuspectMeasured suspect, MeasuredValue value)
    {
        if (suspect.Condition == MeasuredCondition.NotPassed)
        {
            return value.Passed is { } passed ? [!passed] : [true, false];
        }

        if (value.Value is not { } entered)
        {
            return [false];
        }

        // All that is tried is a torque, but for what can't be compared.
        decimal[] factors = [1m, 0.01m, 1_000m];
        string[] units = ["N.m", "cN.m", "kN.m"];
        var known = Array.IndexOf(units, entered.Unit);
        if (known < 0)
        {
            return [true, false];
        }

        var bound = suspect.Bound!.Value.Value * factors[Array.IndexOf(units, suspect.Bound.Value.Unit)];
        var off = 2 * (value.StandardUncertainty ?? 0m);
        return new[] { entered.Value - off, entered.Value, entered.Value + off }
            .Select(v => v * factors[known])
            .Select(v => suspect.Condition == MeasuredCondition.Below ? v < bound : v > bound);
    }

    private static IEnumerable<int?[]> Rows(SuspectInterval suspect, UnitJudgement unit)
    {
        if (suspect.Item is { } item && item != unit.Unit.Item)
        {
            yield break;
        }

        foreach (var interval in unit.IntervalResults)
        {
            var least = interval.Least ?? TimeSpan.Zero;
            var most = interval.Most ?? TimeSpan.FromDays(1);
            bool[] lengths = [Is(least), Is(most)];
            var isKnown = interval.Least is not null && interval.Most is not null;
            var off = isKnown ? (most - least) / 2 : TimeSpan.Zero;
            yield return isKnown
                ? Ways(suspect, interval.At - off, interval.At + off, interval.ToStep, interval.Station, [], (_, _) => lengths)
                : Ways(suspect, RandomGenealogy.Start, null, interval.ToStep, interval.Station, [], (_, _) => lengths);
        }

        foreach (var gap in unit.WorkGaps.Where(g => g.Kind == WorkGapKind.Interval))
        {
            yield return [null, .. Ways(suspect, gap.From, gap.To, gap.Step, gap.Station, gap.Stations, (_, _) => [true])];
        }

        bool Is(TimeSpan length) => suspect.ShorterThan is { } shorter ? length < shorter : length > suspect.LongerThan;
    }

    // Every minute and every station at which it can have been, and what can have been the case there then.
    private static int?[] Ways(
        SingleSuspect suspect, DateTimeOffset from, DateTimeOffset? to, StepCode step, StationCode? station, IEnumerable<StationCode> bound, Func<int, StationCode, IEnumerable<bool>> cases)
    {
        StationCode[] stations = station is { } at ? [at] : bound.Any() ? [.. bound] : [.. RandomWork.Stations];
        var last = to is { } end ? RandomGenealogy.MinuteOf(end) : RandomGenealogy.Now - 1;
        var ways = new HashSet<string>(StringComparer.Ordinal);
        for (var minute = RandomGenealogy.MinuteOf(from); minute <= last; minute++)
        {
            foreach (var place in stations)
            {
                foreach (var isOne in cases(minute, place))
                {
                    ways.Add(isOne && Fits(suspect.Filter, minute, step, place) ? minute.ToString(CultureInfo.InvariantCulture) : string.Empty);
                }
            }
        }

        return [.. ways.Select(w => w.Length == 0 ? (int?)null : int.Parse(w, CultureInfo.InvariantCulture))];
    }

    /// <summary>Whether something at that minute, step and station fits.</summary>
    public static bool Fits(UseFilter filter, int minute, StepCode? step, StationCode? station) =>
        (filter.From is not { } from || RandomGenealogy.At(minute) >= from)
        && (filter.To is not { } to || RandomGenealogy.At(minute) < to)
        && (filter.Step is null || step == filter.Step)
        && (filter.Station is null || station == filter.Station);
}
