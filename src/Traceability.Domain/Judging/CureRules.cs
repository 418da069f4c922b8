using System.Globalization;
using Traceability.Domain.Cure;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Domain.Routings;

namespace Traceability.Domain.Judging;

/// <summary>Minima that depend on temperature: met when the readings show that the dose has reached 1.</summary>
/// <remarks>
/// Never in favour of the cure: what no reading tells earns nothing. But neither is a cure called too short that the gaps may hold:
/// the verdict is too short only if the dose can't have reached 1, and undetermined in between. Uncertainty of the clocks widens both.
/// The uncertainty of the readings, of their clock and of the table is not taken in.
/// </remarks>
internal static class CureRules
{
    /// <summary>How long after its start a cure is followed: nothing is earned later.</summary>
    public static readonly TimeSpan LengthMax = TimeSpan.FromDays(31);

    // What is looked at on either side of a cure is at most this: a gap between readings, and the uncertainty of a clock.
    private static readonly TimeSpan MarginMax = TimeSpan.FromDays(1);

    // A reading is stored by the day that its own clock told.
    private static readonly TimeSpan ClockOffsetMax = TimeSpan.FromHours(1);

    /// <summary>Judges the minimum of a rule over an interval.</summary>
    public static CureJudgement Judge(UnitHistory history, Epoch epoch, IndexedInterval rule, Moment start, Moment end)
    {
        var basis = CureBasis.Of(history, epoch, rule, start, Instant.Shift(end.At, end.Uncertainty));
        if (basis.Missing is not null)
        {
            var verdict = IntervalVerdicts.Judge(end.At - start.At, Instant.Sum(start.Uncertainty, end.Uncertainty), basis.Condition.Fallback, null);
            return new(verdict, basis, default, default);
        }

        var least = basis.Dose(Instant.Shift(start.At, start.Uncertainty), Instant.Shift(end.At, -end.Uncertainty));
        var most = basis.Dose(Instant.Shift(start.At, -start.Uncertainty), Instant.Shift(end.At, end.Uncertainty));
        return new(
            least.Earned >= CureDose.Whole ? IntervalVerdict.Kept : most.Possible < CureDose.Whole ? IntervalVerdict.TooShort : IntervalVerdict.Undetermined,
            basis,
            least,
            most);
    }

    /// <summary>When the minimum of an interval that has started will be met, and what that assumes.</summary>
    public static CureForecast Forecast(UnitHistory history, Epoch epoch, IndexedInterval rule, Moment start)
    {
        var basis = CureBasis.Of(history, epoch, rule, start, DateTimeOffset.MaxValue);
        if (basis.Missing is { } missing)
        {
            return new(Instant.Shift(start.At, basis.Condition.Fallback), $"The fixed minimum of {Say.Span(basis.Condition.Fallback)} is taken, since {missing}.", null);
        }

        var last = basis.Points[^1];
        var readyAt = basis.ForecastReachedAt(start.At);
        if (readyAt <= last.At)
        {
            return new(InWholeSeconds(readyAt.Value), null, null);
        }

        var held = $"{last.Entered} at {Say.Time(last.At)} ({basis.Place})";
        return new(
            readyAt is { } at ? InWholeSeconds(at) : null,
            readyAt is null ? $"At the last reading, {held}, it does not cure." : $"If it stays at the last reading, {held}.",
            Instant.Shift(last.At, basis.GapMax));
    }

    // Up, so that waiting for it is long enough. More digits would say nothing.
    private static DateTimeOffset InWholeSeconds(DateTimeOffset at)
    {
        var beyond = at.UtcTicks % TimeSpan.TicksPerSecond;
        return beyond == 0 ? at : Instant.Shift(at, TimeSpan.FromTicks(TimeSpan.TicksPerSecond - beyond));
    }

    /// <summary>The days in UTC whose readings may be looked at for a cure that starts at a moment, and a few more.</summary>
    public static IEnumerable<DateOnly> DaysFrom(DateTimeOffset start) =>
        Days(Instant.Shift(start, -3 * MarginMax), Instant.Shift(start, LengthMax + (3 * MarginMax)));

    /// <summary>The readings at a place over a time, by time; notes that they were looked at.</summary>
    public static ImmutableArray<TemperaturePoint> Read(UnitHistory history, StationCode place, DateTimeOffset from, DateTimeOffset to)
    {
        var looks = history.CureLooks ??= new();
        looks.Windows.Add(new(place, from, to));
        var points = new SortedDictionary<long, TemperaturePoint>();
        foreach (var day in Days(Instant.Shift(from, -ClockOffsetMax), Instant.Shift(to, ClockOffsetMax)))
        {
            looks.Streams.Add(StreamNames.OfTemperature(place, day));
            foreach (var point in history.References.FindTemperatures(place, day)?.Points ?? [])
            {
                if (point.At >= from && point.At <= to && (!points.TryGetValue(point.At.UtcTicks, out var known) || point.Kelvin < known.Kelvin))
                {
                    points[point.At.UtcTicks] = point;
                }
            }
        }

        return [.. points.Values];
    }

    /// <summary>A time, at most <see cref="MarginMax"/> and not negative.</summary>
    public static TimeSpan Bounded(TimeSpan span) => span < TimeSpan.Zero ? TimeSpan.Zero : span > MarginMax ? MarginMax : span;

    private static IEnumerable<DateOnly> Days(DateTimeOffset from, DateTimeOffset to)
    {
        var last = DateOnly.FromDateTime(to.UtcDateTime).DayNumber;
        for (var day = DateOnly.FromDateTime(from.UtcDateTime).DayNumber; day <= last; day++)
        {
            yield return DateOnly.FromDayNumber(day);
        }
    }
}

/// <summary>What was looked at of temperatures while a unit was judged.</summary>
internal sealed class CureLooks
{
    public HashSet<CureWindow> Windows { get; } = [];

    /// <summary>The names of the streams.</summary>
    public HashSet<string> Streams { get; } = new(StringComparer.Ordinal);

    public ImmutableArray<CureWindow> ToSorted() =>
        [.. Windows.OrderBy(w => w.Place.Value, StringComparer.Ordinal).ThenBy(w => w.From).ThenBy(w => w.To)];
}

/// <summary>When a minimum will be met; null: no time can be told.</summary>
internal sealed record CureForecast(DateTimeOffset? ReadyAt, string? Assumption, DateTimeOffset? AssumedUntil);

/// <summary>The verdict on a minimum that depends on temperature, with what it rests on.</summary>
internal sealed record CureJudgement(IntervalVerdict Verdict, CureBasis Basis, CureDose Least, CureDose Most)
{
    /// <summary>Whether readings tell the dose; else the fixed minimum holds.</summary>
    public bool IsByDose => Basis.Missing is null;

    /// <summary>The minimum, for a person.</summary>
    public string Minimum => IsByDose ? "dose 1" : Say.Span(Basis.Condition.Fallback);

    /// <summary>What it rests on, for a person; begins with a space.</summary>
    public string Said => !IsByDose
        ? $" The fixed minimum of {Say.Span(Basis.Condition.Fallback)} is taken, since {Basis.Missing}."
        : Least.Uncovered > TimeSpan.Zero
            ? $" The readings at {Basis.Place} show a dose of {Number(Least.Earned)} to {Basis.What}; over {Say.Span(Least.Uncovered)} nothing tells the temperature."
            : $" The readings at {Basis.Place} show a dose of {Number(Least.Earned)} to {Basis.What}.";

    /// <summary>The same as evidence.</summary>
    public (string Name, string Text)[] Evidence => !IsByDose
        ? [("cure-fallback", Basis.Missing!)]
        :
        [
            ("cure-dose", Number(Least.Earned)),
            ("cure-dose-at-most", Number(Most.Possible)),
            ("cure-to", Basis.What),
            ("cure-place", Basis.Place.ToString()!),
            ("cure-readings", Say.Number(Basis.Points.Length)),
            ("cure-coldest", Basis.Points.MinBy(p => p.Kelvin).Entered.ToString()),
            ("cure-hottest", Basis.Points.MaxBy(p => p.Kelvin).Entered.ToString()),
            ("cure-not-covered", Say.Duration(Least.Uncovered)),
        ];

    // Cut off, not rounded: a dose that has not reached 1 is never shown as 1.
    private static string Number(double dose) =>
        (Math.Floor((dose + 1 - CureDose.Whole) * 10_000) / 10_000).ToString("0.####", CultureInfo.InvariantCulture);
}

/// <summary>What a cure is worked out from: the tables of what was used, and the readings where it cured.</summary>
/// <param name="Condition">The rule's condition.</param>
/// <param name="Missing">What is missing to work out a dose, as the end of a sentence; null: nothing.</param>
/// <param name="Curves">One for each item that was used; the slowest counts.</param>
/// <param name="What">The state and the items, for a person.</param>
/// <param name="Place">Where the readings were taken.</param>
/// <param name="Points">The readings.</param>
/// <param name="Limit">Until when the cure is followed.</param>
internal sealed record CureBasis(
    CureCondition Condition,
    string? Missing,
    ImmutableArray<CureCurve> Curves,
    string What,
    StationCode? Place,
    ImmutableArray<TemperaturePoint> Points,
    DateTimeOffset Limit)
{
    public TimeSpan GapMax => CureRules.Bounded(Condition.ReadingGapMax);

    /// <summary>Looks up what there is for an interval that started at a moment and lasts to at most another one.</summary>
    public static CureBasis Of(UnitHistory history, Epoch epoch, IndexedInterval rule, Moment start, DateTimeOffset to)
    {
        var condition = rule.Rule.Temperature!;
        var limit = Instant.Shift(start.At, CureRules.LengthMax);
        if (Starting(history, epoch, rule, start) is not { Step: { } step } attempt)
        {
            return Without("no completed record tells what was used");
        }

        var serves = attempt.Serves(history);
        var uses = attempt.Record.Materials.OrEmpty();
        ItemNumber[] items = [.. uses.Where((_, u) => serves[u] >= 0 && step.Materials[serves[u]].Code == condition.Requirement).Select(u => u.Item).Distinct()];
        if (items.Length == 0)
        {
            return Without($"no {condition.Requirement} is recorded");
        }

        var curves = ImmutableArray.CreateBuilder<CureCurve>(items.Length);
        var state = condition.State == CureState.Full ? "full cure" : "handling";
        foreach (var item in items)
        {
            if (history.References.FindItem(item)?.Cure is not { } table || CureCurve.Of(table, condition.State) is not { } curve)
            {
                return Without($"no table of times to {state} is known of {item}");
            }

            curves.Add(curve);
        }

        if ((condition.Place ?? attempt.Record.Station) is not { } place)
        {
            return Without("the record names no station");
        }

        var gap = CureRules.Bounded(condition.ReadingGapMax);
        var from = Instant.Shift(start.At, -(gap + CureRules.Bounded(start.Uncertainty)));
        var points = CureRules.Read(history, place, from, Instant.Shift(to < limit ? to : limit, gap));
        return points.IsEmpty
            ? Without($"no temperature is recorded at {place}")
            : new(condition, null, curves.MoveToImmutable(), $"{state} of {string.Join(" and ", items)}", place, points, limit);

        CureBasis Without(string missing) => new(condition, missing, [], string.Empty, null, [], limit);
    }

    /// <summary>The dose over a time; of several items that of the slowest.</summary>
    public CureDose Dose(DateTimeOffset from, DateTimeOffset to)
    {
        CureDose? least = null;
        foreach (var curve in Curves)
        {
            var dose = CureDose.Over(curve, Points.AsSpan(), GapMax, from, to < Limit ? to : Limit);
            if (to > Limit)
            {
                var beyond = to - (from > Limit ? from : Limit);
                beyond = beyond < TimeSpan.Zero ? TimeSpan.Zero : beyond;
                dose = dose with { Possible = dose.Possible + (beyond.TotalSeconds * curve.RateMax), Uncovered = dose.Uncovered + beyond };
            }

            least = least is not { } other ? dose : new(Math.Min(other.Earned, dose.Earned), Math.Min(other.Possible, dose.Possible), dose.Uncovered, null);
        }

        return least ?? default;
    }

    /// <summary>When the dose is 1 if it stays at the last reading; null: never.</summary>
    public DateTimeOffset? ForecastReachedAt(DateTimeOffset from)
    {
        DateTimeOffset? latest = null;
        foreach (var curve in Curves)
        {
            if (CureDose.ForecastReachedAt(curve, Points.AsSpan(), GapMax, from) is not { } reached)
            {
                return null;
            }

            latest = latest > reached ? latest : reached;
        }

        return latest;
    }

    // The attempt whose record the start was read off.
    internal static Attempt? Starting(UnitHistory history, Epoch epoch, IndexedInterval rule, Moment start)
    {
        foreach (var attempt in epoch.Tracks[rule.From]?.Attempts ?? [])
        {
            if (history.Counts(attempt, epoch)
                && (attempt.Id == start.Record || (rule.Rule.From.Kind == MilestoneKind.Started && attempt.StartedAt == start.At)))
            {
                return attempt;
            }
        }

        return null;
    }
}
