using System.Collections.Immutable;
using System.Globalization;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;
using Traceability.Domain.Scope;
using Traceability.Domain.Tools;

namespace Traceability.Testing.Scope.Facts;

/// <summary>
/// A made-up history of a small works: what truly happened; the facts that were told of it, in the order in which they arrived, with
/// corrections, voids and voids of voids, and with holes; and questions about it, one of each kind of suspect and a combination.
/// </summary>
public sealed class FactHistory
{
    private readonly MadeLots _made;

    private FactHistory(string tag, IReadOnlyList<int> numbers, int holesMax, bool isWire)
    {
        // The parts use numbers of their own, so that a change of one leaves the others as they are.
        Choices Part(int part) => new([.. numbers.Where((_, i) => i % 3 == part)], holesMax);
        var ids = 0;
        Guid Id() => new(++ids, 7, 7, [1, 1, 1, 1, 1, 1, 1, 1]);
        Plant = new(tag, numbers.Count > 0 ? numbers[0] : 0);
        var truth = new TruthMaker(Plant, Part(0), Id);
        Truth = truth.Make();
        var (reports, choices) = (Part(1), Part(2));
        var told = new ReportMaker(Plant, reports, Id, isWire);
        foreach (var fact in truth.LotFacts.Values.SelectMany(f => f).Concat(truth.ToolFacts.Skip(1)))
        {
            told.Tell(fact);
        }

        foreach (var unit in truth.Units)
        {
            told.Tell(unit, truth.Units);
        }

        _made = truth.Contents;
        Lots = truth.LotFacts.ToImmutableDictionary(l => l.Key, l => Lot.Of(l.Key, [.. l.Value.Select(f => new RecordedFact(Id(), f, f.OccurredAt))]));
        HasUnreadable = told.HasUnreadable;
        var facts = told.Told.ToList();
        for (var i = facts.Count - 1; i > 0; i--)
        {
            var j = choices.Pick(4) == 1 ? choices.Pick(i + 1) : i;
            (facts[i], facts[j]) = (facts[j], facts[i]);
        }

        Told = [.. facts.Select((f, i) => (f.Stream, new RecordedFact(f.Id, f.Fact, RandomGenealogy.At(20 + i))))];
        var questions = new QuestionMaker(this, choices);
        Singles = questions.Singles();
        Combination = questions.Combination(2);
    }

    /// <summary>The names.</summary>
    public Plant Plant { get; }

    /// <summary>What truly happened.</summary>
    public TrueHistory Truth { get; }

    /// <summary>The facts about units, lots and the tools, by stream, in the order in which they arrived.</summary>
    public ImmutableArray<(string Stream, RecordedFact Fact)> Told { get; private set; }

    /// <summary>Whether one of them can't be read.</summary>
    public bool HasUnreadable { get; }

    /// <summary>A question of each kind.</summary>
    public ImmutableArray<SingleSuspect> Singles { get; }

    /// <summary>A question that combines several.</summary>
    public Suspect Combination { get; }

    /// <summary>The lots as they truly were.</summary>
    public ImmutableDictionary<LotKey, Lot> Lots { get; }

    /// <summary>Whether the lot was made of others, whether it may hold material of the suspect at that minute, and whether it may hold other material.</summary>
    public (bool IsMade, bool Suspect, bool Other) Share(LotKey lot, int minute)
    {
        var (suspect, other) = _made.Share(lot, minute);
        return (_made.Lots.ContainsKey(lot), suspect, other);
    }

    /// <summary>Makes one from numbers of any size; the same numbers make the same one, and small ones a simple one.</summary>
    /// <param name="numbers">The numbers.</param>
    /// <param name="holesMax">At most so many records are incomplete, missing or void for good.</param>
    /// <param name="tag">What the names end in: histories with different ones can share a database.</param>
    /// <param name="isWire">Only what a terminal with a right clock can send.</param>
    public static FactHistory From(IReadOnlyList<int> numbers, int holesMax, string tag = "", bool isWire = false) => new(tag, numbers, holesMax, isWire);

    /// <summary>The same as if every fact had arrived in the order in which it happened.</summary>
    public FactHistory InOrder()
    {
        var same = (FactHistory)MemberwiseClone();
        same.Told = [.. Told.OrderBy(t => t.Fact.Fact.OccurredAt).Select((t, i) => (t.Stream, t.Fact with { RecordedAt = RandomGenealogy.At(20 + i) }))];
        return same;
    }

    /// <summary>The same works and units with other facts told of the units, in this order; an unreadable one is of the unit named with it.</summary>
    public FactHistory Instead(params (UnitKey Unit, Fact Fact)[] told)
    {
        var same = (FactHistory)MemberwiseClone();
        same.Told = [.. told.Select((t, i) => (StreamNames.Of(t.Unit), new RecordedFact(new(i + 1, 5, 5, new byte[8]), t.Fact, RandomGenealogy.At(20 + i))))];
        return same;
    }

    /// <summary>The facts of a stream in the order in which they arrived.</summary>
    public ImmutableArray<RecordedFact> Facts(string stream) => [.. Told.Where(t => t.Stream == stream).Select(t => t.Fact)];

    /// <summary>What is judged of the units.</summary>
    public ImmutableArray<UnitJudgement> Judge()
    {
        var references = References.None;
        foreach (var routing in Plant.Routings().GroupBy(r => r.Item))
        {
            RecordedFact[] facts =
            [
                .. routing.SelectMany((r, i) => new Fact[]
                {
                    new RoutingDrafted(r) { OccurredAt = RandomGenealogy.At(-100 + i) }, new RoutingReleased(r.Item, r.Revision, null) { OccurredAt = RandomGenealogy.At(-90 + i) },
                }).Select((f, i) => new RecordedFact(new(i + 1, 1, 1, new byte[8]), f, f.OccurredAt)),
            ];
            references = references.With(StreamNames.OfRouting(routing.Key), Routing.Of(routing.Key, [.. facts]));
        }

        foreach (var stream in Told.Select(t => t.Stream).Where(s => !s.StartsWith(StreamNames.UnitPrefix, StringComparison.Ordinal) && !s.StartsWith(StreamNames.ToolPrefix, StringComparison.Ordinal)).Distinct())
        {
            references = references.With(stream, References.Fold(stream, Facts(stream)));
        }

        references = references.With(StreamNames.Of(Plant.Tool), ToldTool).With(StreamNames.Of(Plant.OtherTool), ToolOf(Plant.OtherTool, []));
        ProductUnit[] units = [.. Truth.Units.Select(u => ProductUnit.Of(u.Key, Facts(StreamNames.Of(u.Key))))];
        foreach (var unit in units)
        {
            references = references.With(StreamNames.Of(unit.Key), unit);
        }

        return [.. units.Select(u => Domain.Judging.Judge.Unit(u, references))];
    }

    /// <summary>What a search must know beside the rows.</summary>
    public ScopeKnowledge Knowledge()
    {
        var lots = Told.Select(t => t.Stream).Where(s => s.StartsWith(StreamNames.LotPrefix, StringComparison.Ordinal)).Distinct()
            .Select(s => LotKey.Parse(s[StreamNames.LotPrefix.Length..]))
            .ToImmutableDictionary(k => k, k => Lot.Of(k, Facts(StreamNames.Of(k))));
        return new(ImmutableDictionary<LotKey, IReadOnlyDictionary<LotKey, Lot>>.Empty.Add(Truth.Factor.Lot, lots))
        {
            Tools = ImmutableDictionary<ToolNumber, Tool>.Empty.Add(Plant.Tool, ToldTool),
        };
    }

    /// <summary>Runs a search over these judgements.</summary>
    public ScopeFound Search(Suspect suspect, IEnumerable<UnitJudgement> judgements) =>
        ScopeSearch.RunAsync(suspect, new JudgementScopeSource(judgements), Knowledge(), default).AsTask().Result;

    /// <inheritdoc />
    public override string ToString()
    {
        List<string> lines = ["truth:"];
        lines.AddRange(Truth.Units.Select(u => $"  {u.Key} opened {u.Opened} {u.Variant} {u.Lot} {(u.IsOfFactor ? "suspect" : string.Empty)}"));
        lines.AddRange(Truth.Work.Select(w =>
            $"  {w.Unit} {w.Step} [{w.From}, {w.To}] {w.Station} {w.Person} {w.Revision} {w.Lot}/{w.Container}@{w.UsedAt}{(w.IsOfFactor ? "!" : string.Empty)} {w.Tool}:{w.Setting}@{w.ToolAt} {w.Torque}~{w.Reading} {w.Look}@{w.MeasuredAt} waited {w.Waited}"));
        lines.AddRange(Truth.Stays.Select(s => $"  {s.Component} in {s.Parent} {s.Position} [{s.From}, {s.To})"));
        lines.Add("told:");
        lines.AddRange(Told.OrderBy(t => t.Stream, StringComparer.Ordinal).ThenBy(t => t.Fact.Fact.At).Select(t => $"  {t.Stream} {Ordinal(t.Fact.Id)} at {Minute(t.Fact.Fact.At)} +-{t.Fact.Fact.Clock.Uncertainty.TotalMinutes}: {Say(t.Fact.Fact)}"));
        return string.Join('\n', lines);
    }

    private Tool ToldTool => ToolOf(Plant.Tool, Facts(StreamNames.Of(Plant.Tool)));

    private Tool ToolOf(ToolNumber tool, ImmutableArray<RecordedFact> facts) =>
        Tool.Of(tool, [new(new(1, 2, 2, new byte[8]), new ToolDefined(tool, Plant.ToolClass, "driver", true) { OccurredAt = RandomGenealogy.At(-80) }, RandomGenealogy.At(-80)), .. facts]);

    private static int Ordinal(Guid id) => BitConverter.ToInt32(id.ToByteArray(), 0);

    private static string Minute(DateTimeOffset at) => (at - RandomGenealogy.Start).TotalMinutes.ToString(CultureInfo.InvariantCulture);

    private static string Say(Fact fact) => fact switch
    {
        RecordVoided v => $"void {Ordinal(v.Record)}",
        RecordCorrected c => $"correct {Ordinal(c.Record)}: at {Minute(c.Replacement.At)} {Say(c.Replacement)}",
        StepCompleted s => $"{s.Step} from {(s.StartedAt is { } started ? Minute(started) : "-")} {s.Station} {s.Person} {string.Join('+', s.Materials.Select(m => $"{m.Item}/{string.Join('|', m.Lots)}/{m.Container}"))} "
            + $"{string.Join('+', s.Tools.Select(t => $"{t.Tool}:{t.Setting}"))} {string.Join('+', s.Measurements.Select(m => $"{m.Value} {m.Unit} u {m.StandardUncertainty}"))} {string.Join('+', s.Checks.Select(c => c.Passed))} "
            + string.Join('+', s.Components.Select(c => $"{c.Position}={c.Component}")),
        UnitOpened o => $"opened {o.Variant} {o.Lot}",
        StepStarted s => $"started {s.Step} {s.Station} {s.Person}",
        ComponentInstalled i => $"installed {i.Position}={i.Component}",
        ComponentRemoved r => $"removed {r.Position}={r.Component}",
        UnitMovedToRevision m => $"moved to {m.Revision} with {string.Join(' ', m.CarriesOver)}",
        LotReceived r => $"received at {string.Join(' ', r.Stations)}",
        LotMoved m => $"moved to {string.Join(' ', m.Stations)}",
        ContainerOpened o => $"{o.Container} opened at {string.Join(' ', o.Stations)}",
        ContainerEmptied e => $"{e.Container} emptied",
        ILotInflow f => $"{fact.GetType().Name} of {string.Join(' ', f.Sources.Select(s => $"{s.Lot}/{s.Container}"))}",
        ToolChecked c => $"checked {c.Setting} {string.Join(' ', c.Readings)}",
        ToolCalibrated c => $"calibrated, found {c.FoundGood}",
        _ => fact.GetType().Name,
    };
}
