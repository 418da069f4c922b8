using System.Collections.Immutable;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;
using Traceability.Domain.Tools;

namespace Traceability.Testing.Scope.Facts;

/// <summary>One attempt at a step as it truly was. All times are minutes.</summary>
/// <param name="Unit">The unit.</param>
/// <param name="Step">The step.</param>
/// <param name="From">When it began.</param>
/// <param name="To">When it was completed.</param>
/// <param name="Station">Where.</param>
/// <param name="Person">Who did it.</param>
/// <param name="Revision">The revision that held when it was completed.</param>
public sealed record TrueWork(UnitKey Unit, StepCode Step, int From, int To, StationCode Station, PersonCode Person, RevisionCode Revision)
{
    /// <summary>The lot used; null: none.</summary>
    public LotKey? Lot { get; init; }

    /// <summary>The container that it was taken from.</summary>
    public ContainerNumber? Container { get; init; }

    /// <summary>What was used was of the suspect material.</summary>
    public bool IsOfFactor { get; init; }

    /// <summary>When it was used.</summary>
    public int UsedAt { get; init; }

    /// <summary>The tool used; null: none.</summary>
    public ToolNumber? Tool { get; init; }

    /// <summary>The setting that it was used at.</summary>
    public Code? Setting { get; init; }

    /// <summary>When it was used.</summary>
    public int ToolAt { get; init; }

    /// <summary>The torque that there truly was, in N·m; null: none was measured.</summary>
    public decimal? Torque { get; init; }

    /// <summary>What the instrument showed for it.</summary>
    public decimal? Reading { get; init; }

    /// <summary>The standard uncertainty of the reading; null: it showed exactly what there was.</summary>
    public decimal? StandardUncertainty { get; init; }

    /// <summary>What a check came to; null: none was made.</summary>
    public bool? Look { get; init; }

    /// <summary>When it was measured and checked.</summary>
    public int MeasuredAt { get; init; }

    /// <summary>How many minutes passed since what it had to wait for, whether a rule asked for it or not; null: there was nothing to wait for.</summary>
    public int? Waited { get; init; }
}

/// <summary>A unit was truly inside another one.</summary>
/// <param name="Component">The unit inside.</param>
/// <param name="Parent">The one that it was inside of.</param>
/// <param name="Position">Where.</param>
/// <param name="From">From this minute on.</param>
/// <param name="To">Until before this one.</param>
public sealed record TrueStay(UnitKey Component, UnitKey Parent, Code Position, int From, int To);

/// <summary>A unit as it truly was.</summary>
/// <param name="Key">The unit.</param>
/// <param name="Opened">When it got its serial.</param>
/// <param name="Variant">Its variant.</param>
/// <param name="Lot">The lot that it came in; null: it was made here.</param>
/// <param name="IsOfFactor">It is a piece of the suspect lot.</param>
public sealed record TrueUnit(UnitKey Key, int Opened, VariantCode? Variant, LotNumber? Lot, bool IsOfFactor);

/// <summary>What truly happened, whatever was recorded of it; and which units truly meet a condition.</summary>
/// <param name="Units">The units.</param>
/// <param name="Work">What was done to them.</param>
/// <param name="Stays">What was inside what; a component without a record of its own may be among them.</param>
/// <param name="Factor">The suspect material.</param>
/// <param name="Tool">The suspect tool, as it truly was tried.</param>
/// <param name="SupplierLot">The supplier's lot that the suspect lot came in as, where a whole lot is suspected.</param>
public sealed record TrueHistory(
    ImmutableArray<TrueUnit> Units, ImmutableArray<TrueWork> Work, ImmutableArray<TrueStay> Stays, SuspectFactor Factor, Tool Tool, string? SupplierLot)
{
    private const int Now = RandomGenealogy.Now;

    /// <summary>The units that the suspect truly reached, by name.</summary>
    /// <param name="suspect">The suspect.</param>
    /// <param name="anyRule">Whether an interval counts, too, that no rule asked for when it ended: a later revision may.</param>
    public ImmutableHashSet<string> Reached(Suspect suspect, bool anyRule = false) => suspect switch
    {
        SuspectAll all => all.Of.Select(s => Reached(s, anyRule)).Aggregate((a, b) => a.Intersect(b)),
        SuspectAny any => any.Of.Select(s => Reached(s, anyRule)).Aggregate((a, b) => a.Union(b)),
        SuspectExcept except => Reached(except.Of, anyRule).Except(Reached(except.But, !anyRule)),
        _ => [.. Carried((SingleSuspect)suspect, anyRule).Where(c => c.Value.Contains(true) && Units.Any(u => u.Key.ToString() == c.Key)).Select(c => c.Key)],
    };

    /// <summary>For each unit and minute whether it carried the suspect.</summary>
    /// <param name="suspect">The suspect.</param>
    /// <param name="anyRule">As for <see cref="Reached"/>.</param>
    public Dictionary<string, bool[]> Carried(SingleSuspect suspect, bool anyRule)
    {
        var carries = Units.Select(u => u.Key).Concat(Stays.Select(s => s.Component)).Distinct().ToDictionary(u => u.ToString(), _ => new bool[Now], StringComparer.Ordinal);
        var exposed = Exposed(suspect, anyRule).ToArray();
        for (var minute = 0; minute < Now; minute++)
        {
            foreach (var (unit, _) in exposed.Where(e => e.From <= minute))
            {
                carries[unit.ToString()][minute] = true;
            }

            // Three levels: what is in the lowest has reached the highest after two rounds.
            for (var round = 0; round < 3; round++)
            {
                foreach (var stay in Stays.Where(s => s.From <= minute && minute < s.To && carries[s.Component.ToString()][minute]))
                {
                    carries[stay.Parent.ToString()][minute] = true;
                }
            }
        }

        return carries;
    }

    private IEnumerable<(UnitKey Unit, int From)> Exposed(SingleSuspect suspect, bool anyRule)
    {
        if (suspect is SuspectComponent component)
        {
            yield return (component.Unit, 0);
        }

        // A piece of a lot was that before it was here: no time or place of a use is known of it.
        if (IsFactor(suspect) && suspect.Filter.IsNone)
        {
            foreach (var unit in Units.Where(u => u.IsOfFactor))
            {
                yield return (unit.Key, 0);
            }

            foreach (var stay in Stays.Where(s => s.Component.Item == Factor.Lot.Item && Units.All(u => u.Key != s.Component)))
            {
                yield return (stay.Component, 0);
            }
        }

        foreach (var work in Work)
        {
            foreach (var minute in Minutes(suspect, work, anyRule).Where(m => Fits(suspect.Filter, m, work)))
            {
                yield return (work.Unit, minute);
            }
        }
    }

    private IEnumerable<int> Minutes(SingleSuspect suspect, TrueWork work, bool anyRule) => suspect switch
    {
        SuspectFactor or SuspectSupplierLot => IsFactor(suspect) && work.IsOfFactor ? [work.UsedAt] : [],
        SuspectTool tool => work.Tool == tool.Tool && (tool.Setting is null || work.Setting == tool.Setting) && IsSuspectTime(tool, work) ? [work.ToolAt] : [],
        SuspectWork asked => IsOf(asked, work) ? Enumerable.Range(work.From, work.To - work.From + 1) : [],
        SuspectMeasured measured => (measured.Item is not { } item || item == work.Unit.Item) && Meets(measured, work) ? [work.MeasuredAt] : [],
        SuspectInterval interval => (interval.Item is not { } on || on == work.Unit.Item) && IsOf(interval, work, anyRule) ? [work.From] : [],
        _ => [],
    };

    private bool IsFactor(SingleSuspect suspect) => suspect switch
    {
        SuspectSupplierLot s => s.SupplierLot == SupplierLot,
        SuspectLot l => Factor is SuspectLot && l.Lot == Factor.Lot,
        SuspectContainer c => Factor is SuspectContainer f && (c.Lot, c.Container) == (f.Lot, f.Container),
        _ => false,
    };

    private bool IsOf(SuspectWork asked, TrueWork work) =>
        (asked.Item is not { } item || item == work.Unit.Item)
        && (asked.Variant is not { } variant || Units.Single(u => u.Key == work.Unit).Variant == variant)
        && (asked.Revision is not { } revision || revision == work.Revision)
        && (asked.Person is not { } person || person == work.Person);

    private static bool Meets(SuspectMeasured suspect, TrueWork work)
    {
        if (suspect.Condition == MeasuredCondition.NotPassed)
        {
            return suspect.Characteristic == Plant.Look ? work.Look == false : work.Reading is < Plant.TorqueMin or > Plant.TorqueMax;
        }

        var bound = suspect.Bound!.Value.Value * (suspect.Bound.Value.Unit == "cN.m" ? 0.01m : 1m);
        return work.Torque is { } torque && (suspect.Condition == MeasuredCondition.Below ? torque < bound : torque > bound);
    }

    private static bool IsOf(SuspectInterval suspect, TrueWork work, bool anyRule) => work.Waited is { } minutes && (anyRule || Plant.NeedsCure(work.Revision, work.Step))
        && (suspect.ShorterThan is { } shorter ? TimeSpan.FromMinutes(minutes) < shorter : TimeSpan.FromMinutes(minutes) > suspect.LongerThan);

    // As the question is meant: over the windows, or, where there is none at all, since it was last shown good.
    private bool IsSuspectTime(SuspectTool suspect, TrueWork work)
    {
        if (suspect.Times == ToolTimes.All)
        {
            return true;
        }

        Code?[] settings = suspect.Setting is { } one ? [one] : [null, .. Plant.Settings.Select(s => (Code?)s)];
        var at = RandomGenealogy.At(work.ToolAt);
        return settings.Any(s => Enumerable.Range(-1, Now + 2).Any(m => SuspectWindows.At(Tool, s, RandomGenealogy.At(m)) is not null))
            ? SuspectWindows.At(Tool, work.Setting, at) is not null
            : !(SuspectWindows.LastGood(Tool, work.Setting) > at);
    }

    private static bool Fits(UseFilter filter, int minute, TrueWork work) =>
        (filter.From is not { } from || RandomGenealogy.At(minute) >= from)
        && (filter.To is not { } to || RandomGenealogy.At(minute) < to)
        && (filter.Step is null || work.Step == filter.Step)
        && (filter.Station is null || work.Station == filter.Station);
}
