using System.Globalization;
using Traceability.Domain.Cure;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Judging;

/// <summary>How long a mix, or an opened container, may be used: by the clock, or by what the readings show that is used up of it.</summary>
/// <remarks>
/// Never in favour of a longer life: the verdict is kept only if the whole life can't have been used up, too long only if it surely
/// was, and undetermined in between. Uncertainty of the clocks widens both; that of the readings and of the table is not taken in.
/// </remarks>
internal static class LifeRules
{
    /// <summary>How long a life is followed: the longest that a table may tell.</summary>
    public static readonly TimeSpan LengthMax = CureRules.LengthMax;

    /// <summary>Judges a life that started at a moment by a use at another one.</summary>
    public static LifeJudgement Judge(UnitHistory history, LifeTerm term, Moment start, Moment end)
    {
        var basis = LifeBasis.Of(history, term, start, Instant.Shift(end.At, end.Uncertainty));
        var isBefore = Instant.Shift(end.At, end.Uncertainty) < Instant.Shift(start.At, -start.Uncertainty);
        if (basis.Missing is not null || basis.Curve is not { } curve)
        {
            var byClock = IntervalVerdicts.Judge(end.At - start.At, Instant.Sum(start.Uncertainty, end.Uncertainty), null, term.Fixed);
            return new(isBefore ? IntervalVerdict.Undetermined : byClock, basis, default, default, WasHotter: false);
        }

        var (least, most, hotter) = basis.Doses(curve, start, end);
        var verdict = least.Earned > Over ? IntervalVerdict.TooLong
            : most.Possible > Over || hotter || isBefore ? IntervalVerdict.Undetermined
            : IntervalVerdict.Kept;
        return new(verdict, basis, least, most, hotter);
    }

    /// <summary>Until when it may be used, as known at a moment, and what that assumes; null: no time can be told.</summary>
    public static CureForecast Forecast(UnitHistory history, LifeTerm term, Moment start, DateTimeOffset now)
    {
        return Forecast(LifeBasis.Of(history, term, start, now), start, now);
    }

    /// <summary>From when on it may have been exceeded, and from when on it surely was, by the readings that there are; with the forecast.</summary>
    public static LifeLimits Limits(UnitHistory history, LifeTerm term, Moment start)
    {
        var basis = LifeBasis.Of(history, term, start, DateTimeOffset.MaxValue);
        if (basis.Missing is not null || basis.Curve is not { } curve)
        {
            var end = Instant.Shift(start.At, term.Fixed);
            return new(Forecast(basis, start, start.At) with { ReadyAt = end }, Instant.Shift(end, -start.Uncertainty), Instant.Shift(end, start.Uncertainty));
        }

        var from = Instant.Shift(start.At, -start.Uncertainty);

        // Beyond the time that is followed nothing is known of it.
        var followed = (basis.Limit - from) + TimeSpan.FromSeconds(2);
        var mayBe = FirstSecond(followed, s => MayBeOver(basis.Doses(curve, start, At(s)))) is { } first ? Instant.Shift(from, first - TimeSpan.FromSeconds(1)) : basis.Limit;
        var surely = FirstSecond(followed, s => basis.Doses(curve, start, At(s)).Least.Earned > Over) is { } over ? Instant.Shift(from, over) : (DateTimeOffset?)null;
        var last = basis.Points[^1].At;
        var isTold = mayBe <= last && !basis.Doses(curve, start, new(last, TimeSpan.Zero, Guid.Empty)).WasHotter;
        return new(isTold ? new(mayBe, null, null) : Forecast(basis, start, last > start.At ? last : start.At), mayBe, surely);

        Moment At(TimeSpan since) => new(Instant.Shift(from, since), TimeSpan.Zero, Guid.Empty);
    }

    // Neither dose ever falls, so halving finds it.
    private static TimeSpan? FirstSecond(TimeSpan within, Func<TimeSpan, bool> isOver)
    {
        long low = 0, high = Math.Max(1, (long)within.TotalSeconds);
        if (!isOver(TimeSpan.FromSeconds(high)))
        {
            return null;
        }

        while (low + 1 < high)
        {
            var middle = low + ((high - low) / 2);
            (low, high) = isOver(TimeSpan.FromSeconds(middle)) ? (low, middle) : (middle, high);
        }

        return TimeSpan.FromSeconds(high);
    }

    private static bool MayBeOver((CureDose Least, CureDose Most, bool WasHotter) doses) => doses.Most.Possible > Over || doses.WasHotter;

    private static CureForecast Forecast(LifeBasis basis, Moment start, DateTimeOffset now)
    {
        var term = basis.Term;
        if (basis.Missing is not null || basis.Curve is not { } curve)
        {
            var until = Instant.Shift(Instant.Shift(start.At, term.Fixed), -start.Uncertainty);
            return new(until, basis.Missing is { } missing ? $"The fixed {term.Name} of {Say.Span(term.Fixed)} is taken, since {missing}." : null, null);
        }

        var last = basis.Points[^1];
        var held = $"{last.Entered} at {Say.Time(last.At)} ({basis.Place})";
        var (_, most, hotter) = basis.Doses(curve, start, new(now, TimeSpan.Zero, Guid.Empty));
        var rate = curve.Most.RateAt(last.Kelvin);
        if (hotter || CureDose.Over(curve.Beyond, [last], basis.GapMax, last.At, last.At.AddSeconds(1)).Earned > 0)
        {
            return new(null, $"At {held}, or before, it was hotter than its table tells, so no time can be told.", null);
        }

        var seconds = Math.Floor(Math.Max(0, (1 - most.Possible) / rate) + Rounding);
        var end = seconds < LengthMax.TotalSeconds ? Instant.Shift(now, TimeSpan.FromSeconds(seconds)) : Instant.Shift(now, LengthMax);
        return new(end, $"If it stays at the last reading, {held}.", Instant.Shift(last.At, basis.GapMax));
    }

    // What the arithmetic of doubles may lose of a second.
    private const double Rounding = 1e-6;

    private const double Over = 2 - CureDose.Whole;
}

/// <summary>How long something may be used.</summary>
/// <param name="Name">What it is, for a person.</param>
/// <param name="Fixed">The time that holds by the clock.</param>
/// <param name="Table">The times by temperature; null: none are declared.</param>
/// <param name="Station">Where it started.</param>
internal sealed record LifeTerm(string Name, TimeSpan Fixed, LifeTable? Table, StationCode? Station)
{
    /// <summary>Where the readings are taken; null: not known.</summary>
    public StationCode? Place => Table?.Place ?? Station;

    /// <summary>Why there is no table where one is asked for, as the end of a sentence; null: none is asked for, or there is one.</summary>
    public string? NoTable { get; init; }
}

/// <summary>The limits of a life that has started and not ended, by the readings that there are.</summary>
/// <param name="Forecast">Until when, if it stays as it was read last.</param>
/// <param name="MayBeOverAt">After when it may have been exceeded, to the second before.</param>
/// <param name="SurelyOverAt">After when it surely was, to the second after; null: no readings show it.</param>
internal sealed record LifeLimits(CureForecast Forecast, DateTimeOffset MayBeOverAt, DateTimeOffset? SurelyOverAt);

/// <summary>The verdict on a life, with what it rests on.</summary>
internal sealed record LifeJudgement(IntervalVerdict Verdict, LifeBasis Basis, CureDose Least, CureDose Most, bool WasHotter)
{
    /// <summary>Whether readings tell it; else the fixed time holds.</summary>
    public bool IsByDose => Basis is { Missing: null, Curve: not null };

    /// <summary>The rule, for a person.</summary>
    public string Limit => IsByDose ? $"{Basis.Term.Name} by temperature" : $"{Basis.Term.Name} of {Say.Span(Basis.Term.Fixed)}";

    /// <summary>What it rests on, for a person; begins with a space, or is empty.</summary>
    public string Said => (Basis.Missing, IsByDose) switch
    {
        ({ } missing, _) => $" The fixed time is taken, since {missing}.",
        (_, false) => string.Empty,
        _ => $" The readings at {Basis.Place} show that {Number(Least.Earned)} to {(WasHotter ? "an unknown part" : Number(Most.Possible))} of it was used up"
            + (WasHotter ? "; it was hotter than the table tells." : Least.Uncovered > TimeSpan.Zero ? $"; over {Say.Span(Least.Uncovered)} nothing tells the temperature." : "."),
    };

    /// <summary>The same as evidence.</summary>
    public (string Name, string Text)[] Evidence => !IsByDose
        ? Basis.Missing is { } missing ? [("life-fallback", missing)] : []
        :
        [
            ("life-used", Number(Least.Earned)),
            ("life-used-at-most", WasHotter ? "unknown" : Number(Most.Possible)),
            ("life-place", Basis.Place.ToString()!),
            ("life-readings", Say.Number(Basis.Points.Length)),
            ("life-coldest", Basis.Points.MinBy(p => p.Kelvin).Entered.ToString()),
            ("life-hottest", Basis.Points.MaxBy(p => p.Kelvin).Entered.ToString()),
            ("life-not-covered", Say.Duration(Least.Uncovered)),
        ];

    // Up, not rounded: a life that is used up is never shown as less.
    private static string Number(double dose) =>
        double.IsFinite(dose) ? (Math.Ceiling((dose - 1e-9) * 10_000) / 10_000).ToString("0.####", CultureInfo.InvariantCulture) : "unknown";
}

/// <summary>What a life is worked out from.</summary>
/// <param name="Term">How long it may be.</param>
/// <param name="Missing">What is missing to work out a dose, as the end of a sentence; null: nothing, or no table is declared.</param>
/// <param name="Curve">How fast it is used up; null: it is judged by the clock.</param>
/// <param name="Place">Where the readings were taken.</param>
/// <param name="Points">The readings.</param>
/// <param name="Limit">Until when it is followed.</param>
internal sealed record LifeBasis(
    LifeTerm Term, string? Missing, LifeCurve? Curve, StationCode? Place, ImmutableArray<TemperaturePoint> Points, DateTimeOffset Limit)
{
    public TimeSpan GapMax => CureRules.Bounded(Term.Table?.ReadingGapMax ?? TimeSpan.Zero);

    /// <summary>Looks up what there is for a life that started at a moment and lasts to at most another one.</summary>
    public static LifeBasis Of(UnitHistory history, LifeTerm term, Moment start, DateTimeOffset to)
    {
        var limit = Instant.Shift(start.At, LifeRules.LengthMax);
        if (term.NoTable is { } noTable)
        {
            return Without(noTable);
        }

        if (term.Table is not { } table)
        {
            return new(term, null, null, null, [], limit);
        }

        if (LifeCurve.Of(table) is not { } curve)
        {
            return Without("its table can't be read");
        }

        if (term.Place is not { } place)
        {
            return Without("the record names no station");
        }

        var gap = CureRules.Bounded(table.ReadingGapMax);
        var from = Instant.Shift(start.At, -(gap + CureRules.Bounded(start.Uncertainty)));
        var points = CureRules.Read(history, place, from, Instant.Shift(to < limit ? to : limit, gap));
        return points.IsEmpty ? Without($"no temperature is recorded at {place}") : new(term, null, curve, place, points, limit);

        LifeBasis Without(string missing) => new(term, missing, null, term.Place, [], limit);
    }

    /// <summary>The least and the most that is used up, and whether it was hotter than the table tells.</summary>
    public (CureDose Least, CureDose Most, bool WasHotter) Doses(LifeCurve curve, Moment start, Moment end)
    {
        var earliest = Instant.Shift(start.At, -start.Uncertainty);
        var latest = Instant.Shift(end.At, end.Uncertainty);
        var least = Dose(curve.Least, Instant.Shift(start.At, start.Uncertainty), Instant.Shift(end.At, -end.Uncertainty));
        var most = Dose(curve.Most, earliest, latest);
        most = latest > Limit ? most with { Possible = double.PositiveInfinity } : most;
        return (least, most, Dose(curve.Beyond, earliest, latest).Earned > 0);
    }

    private CureDose Dose(CureCurve curve, DateTimeOffset from, DateTimeOffset to) =>
        CureDose.Over(curve, Points.AsSpan(), GapMax, from, to < Limit ? to : Limit);
}
