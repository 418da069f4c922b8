using System.Diagnostics.CodeAnalysis;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;

namespace Traceability.Domain.Judging;

/// <summary>What is still said of a unit when judging it failed, which is a defect of this program.</summary>
/// <remarks>
/// Each part that can be worked out without the one that failed is: a recall must not miss the unit. Nothing is said of
/// whether a step passed. The finding tells that the unit could not be judged, and why.
/// </remarks>
internal static class NotJudged
{
    /// <summary>The judgement. Total.</summary>
    public static UnitJudgement Of(ProductUnit unit, IReferences references, Exception defect)
    {
        var sink = new FindingSink();
        var history = Try(() => UnitHistory.Of(unit, references));
        var openedAt = Try(() => unit.Opened)?.At.ToUniversalTime();
        sink.AddOnUnit(openedAt ?? DateTimeOffset.MinValue, FindingKinds.UnitNotJudged, string.Empty, Say(defect), ("reason", Reason(defect)));
        var status = history is null ? null : Try(() => StatusFold.Of(history, new SiteCalendar(references)));
        status ??= new(null, [], null, openedAt, null, Place.InProcess, null, openedAt, null, null, null, PassedFirstTime: false, HasUnreadable: true);
        var intervals = First(history, () => IntervalRules.WithoutVerdict(history!), () => []);
        return new(
            unit.Key,
            status with { HasUnreadable = true, PassedFirstTime = false },
            [],
            sink.ToSorted(),
            [],
            First(history, () => UsageList.Of(history!), () => Usages(unit)),
            First(history, () => GapList.Of(history!), () => OwnLot(unit)),
            First(history, () => Judge.Installations(history!), () => Installations(unit)))
        {
            Unreadable = First(history, () => Uncertainty.Of(history!), () => []),
            ToolUsages = First(history, () => ToolUsageList.Of(history!), () => ToolUsages(unit)),
            Measurements = First(history, () => MeasuredValueList.Of(history!), () => Measurements(unit)),
            IntervalResults = intervals,
            WorkGaps = [.. First(history, () => WorkGapList.Of(history!, intervals), () => []), .. First(null, () => [], () => Work(unit))],
            Departures = First(history, () => DepartureList.Of(history!), () => []),
        };
    }

    /// <summary>The sentence for a person.</summary>
    public static string Say(Exception defect) => $"This unit could not be judged, which is a fault of the program ({Reason(defect)}): nothing is known but what was recorded.";

    private static string Reason(Exception defect) => $"{defect.GetType().Name} in {defect.TargetSite?.DeclaringType?.Name}.{defect.TargetSite?.Name}: {defect.Message}";

    [SuppressMessage("Design", "CA1031:Do not catch general exception types", Justification = "What failed is told by the finding; this keeps what did not.")]
    private static T? Try<T>(Func<T?> work)
        where T : class
    {
        try
        {
            return work();
        }
        catch (Exception)
        {
            return null;
        }
    }

    // The first that can be worked out; what needs the history has none without it.
    private static ImmutableArray<T> First<T>(UnitHistory? history, Func<ImmutableArray<T>> work, Func<ImmutableArray<T>> otherwise) =>
        ((history is null ? null : Try(() => new Holder<T>(work()))) ?? Try(() => new Holder<T>(otherwise())))?.List ?? [];

    // Without attempts or revisions: every lot that any record names, also a voided one, at the time of the record.
    private static ImmutableArray<MaterialUsage> Usages(ProductUnit unit) =>
    [
        .. Steps(unit).SelectMany(s => s.Step.Materials.OrEmpty().SelectMany(m => MaterialRules.LotsOf(m).Select(lot => new MaterialUsage(
            s.Step.Step,
            s.Id,
            null,
            new LotKey(m.Item, lot),
            m.Container,
            IsOneOf: true,
            DateTimeOffset.MinValue,
            Instant.Shift(s.Step.At, s.Step.Clock.Uncertainty.Duration()).ToUniversalTime(),
            s.Step.Station)))),
        .. Openings(unit).Where(o => o.Opened.Lot is { } lot && lot != default).Select(o => new MaterialUsage(
            null,
            o.Id,
            null,
            new LotKey(unit.Key.Item, o.Opened.Lot!.Value),
            null,
            IsOneOf: true,
            DateTimeOffset.MinValue,
            Instant.Shift(o.Opened.At, o.Opened.Clock.Uncertainty.Duration()).ToUniversalTime(),
            o.Opened.Station)),
    ];

    // Whether it was bought can't be told, nor which of its openings counts.
    private static ImmutableArray<TraceGap> OwnLot(ProductUnit unit) =>
        [new(GapKind.OwnLot, GapReason.Unreadable, null, Guid.Empty, null, [unit.Key.Item], null, DateTimeOffset.MinValue, null, null)];

    private static ImmutableArray<ToolUsage> ToolUsages(ProductUnit unit) =>
    [
        .. Steps(unit).SelectMany(s => s.Step.Tools.OrEmpty().Where(t => t.Tool != default).Select(t => new ToolUsage(
            s.Step.Step,
            0,
            s.Id,
            t.Tool,
            t.Setting,
            null,
            s.Step.At.ToUniversalTime(),
            DateTimeOffset.MinValue,
            Instant.Shift(s.Step.At, s.Step.Clock.Uncertainty.Duration()).ToUniversalTime(),
            s.Step.Station))),
    ];

    // No results of steps are given, so that whoever asks who did them, where and when finds them here.
    private static ImmutableArray<WorkGap> Work(ProductUnit unit) =>
    [
        .. Steps(unit).Select(s => new WorkGap(
            WorkGapKind.Step,
            GapReason.Unreadable,
            s.Step.Step,
            null,
            null,
            s.Id,
            DateTimeOffset.MinValue,
            Instant.Shift(s.Step.At, s.Step.Clock.Uncertainty.Duration()).ToUniversalTime(),
            s.Step.Station,
            s.Step.Person,
            [])),
    ];

    private static ImmutableArray<MeasuredValue> Measurements(ProductUnit unit) =>
    [
        .. Steps(unit).SelectMany(s => s.Step.Measurements.OrEmpty().Where(m => m.Characteristic != default)
            .Select(m => Value(s.Id, s.Step, m.Characteristic, new(m.Value, m.Unit), m.StandardUncertainty, null))
            .Concat(s.Step.Checks.OrEmpty().Where(c => c.Characteristic != default).Select(c => Value(s.Id, s.Step, c.Characteristic, null, null, c.Passed)))),
    ];

    private static MeasuredValue Value(Guid record, StepCompleted step, Code characteristic, EnteredQuantity? value, decimal? uncertainty, bool? passed) => new(
        step.Step,
        0,
        record,
        characteristic,
        value,
        uncertainty,
        passed,
        DateTimeOffset.MinValue,
        Instant.Shift(step.At, step.Clock.Uncertainty.Duration()).ToUniversalTime(),
        step.Station);

    private static ImmutableArray<Installation> Installations(ProductUnit unit) =>
    [
        .. Steps(unit).SelectMany(s => s.Step.Components.OrEmpty().Select(c =>
            new Installation(unit.Key, c.Position, c.Component, s.Step.Step, s.Id, s.Step.At.ToUniversalTime(), null) { Uncertainty = s.Step.Clock.Uncertainty.Duration() })),
        .. unit.Facts.Where(f => f.Fact is ComponentInstalled).Select(f => (f.Id, Fact: (ComponentInstalled)f.Fact)).Select(f =>
            new Installation(unit.Key, f.Fact.Position, f.Fact.Component, null, f.Id, f.Fact.At.ToUniversalTime(), null) { Uncertainty = f.Fact.Clock.Uncertainty.Duration() }),
    ];

    private static IEnumerable<(Guid Id, StepCompleted Step)> Steps(ProductUnit unit) => unit.Facts
        .Select(f => (f.Id, Step: f.Fact as StepCompleted ?? (f.Fact as RecordCorrected)?.Replacement as StepCompleted))
        .Where(f => f.Step is not null)
        .Select(f => (f.Id, f.Step!));

    private static IEnumerable<(Guid Id, UnitOpened Opened)> Openings(ProductUnit unit) => unit.Facts
        .Select(f => (f.Id, Opened: f.Fact as UnitOpened ?? (f.Fact as RecordCorrected)?.Replacement as UnitOpened))
        .Where(f => f.Opened is not null)
        .Select(f => (f.Id, f.Opened!));

    private sealed record Holder<T>(ImmutableArray<T> List);
}
