using System.Collections.Immutable;
using Traceability.Domain.Judging;
using Traceability.Domain.Lots;
using Traceability.Domain.Narrowing;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;
using Traceability.Testing.Scope;

namespace Traceability.Domain.Tests.Narrowing;

/// <summary>A random history with a question: records of lots, components and work, some of them missing.</summary>
internal sealed record Asking(RandomGenealogy History, Suspect Suspect, ImmutableArray<UnitJudgement> Records)
{
    private static readonly LotNumber Elsewhere = LotNumber.Parse("ELSEWHERE");
    private static readonly Code[] Names = [Code.Parse("A"), Code.Parse("R0"), Code.Parse("R1")];

    public static MissingFactLimits Everything { get; } = new(Candidates: 10_000, Tries: 10_000, Facts: 10_000, Groups: 100, Steps: 100);

    public ScopeKnowledge Knowledge => new(
        new Dictionary<LotKey, IReadOnlyDictionary<LotKey, Lot>> { [History.Factor.Lot] = History.Lots.SetItem(History.Factor.Lot, History.Lot) });

    /// <summary>The history's own suspect, alone and in combinations, also with work that is not recorded.</summary>
    public static Asking From(int[] choices)
    {
        var history = RandomGenealogy.From(choices, holesMax: 8);
        var whole = new SuspectLot(history.Factor.Lot);
        var container = new SuspectContainer(history.Factor.Lot, ContainerNumber.Parse("C2"));
        var work = new SuspectWork(null, null, null, null) { Filter = UseFilter.None with { Step = StepCode.Parse("MARRY") } };
        var measured = new SuspectMeasured(null, Names[0], MeasuredCondition.NotPassed, null);
        Suspect suspect = (choices[0] % 8) switch
        {
            0 => new SuspectAny([container, history.Factor]),
            1 => new SuspectAll([whole, history.Factor]),
            2 => new SuspectAny([history.Factor, measured]),
            3 => new SuspectAll([history.Factor, work]),
            4 => new SuspectExcept(history.Factor, container),
            _ => history.Factor,
        };
        var next = 1;
        return new(history, suspect, [.. history.Records.Select(r => r with { WorkGaps = [.. Enumerable.Range(0, choices[next++] % 3).Select(n => Gap(r, n, choices[next++]))] })]);
    }

    public static ScopeFound Ask(Asking asking, IScopeSource source) => ScopeSearch.RunAsync(asking.Suspect, source, asking.Knowledge, default).AsTask().Result;

    public ImmutableArray<string> Members() => [.. Ask(this, new JudgementScopeSource(Records)).Members.Select(m => m.Unit)];

    public ImmutableArray<string> Possible() =>
        [.. Ask(this, new JudgementScopeSource(Records)).Members.Where(m => m.Verdict == ScopeVerdict.Possible).Select(m => m.Unit)];

    public MissingFacts Search(MissingFactLimits limits)
    {
        var source = new WhatIfSource(new JudgementScopeSource(Records));
        return MissingFactSearch.RunAsync(Ask(this, source), source, Knowledge, limits, () => true, default).AsTask().Result;
    }

    /// <summary>Every missing fact of the records.</summary>
    public ImmutableArray<FactKey> Facts() =>
    [
        .. Records.SelectMany(r =>
            r.Gaps.Select(g => KeyOf(r, g))
                .Concat(r.WorkGaps.Select(g => KeyOf(r, g)))
                .Concat(r.Usages.Where(u => u.IsOneOf || u.Container is null).Select(u => KeyOf(r, u))))
            .Distinct(),
    ];

    /// <summary>The same as it would be, had these facts been recorded and named something else.</summary>
    public Asking Recorded(IReadOnlySet<FactKey> facts) => this with
    {
        Records =
        [
            .. Records.Select(r => r with
            {
                Gaps = [.. r.Gaps.Where(g => !facts.Contains(KeyOf(r, g)))],
                WorkGaps = [.. r.WorkGaps.Where(g => !facts.Contains(KeyOf(r, g)))],
                Usages = [.. r.Usages.Select(u => !facts.Contains(KeyOf(r, u)) ? u
                    : u.IsOneOf ? u with { Lot = u.Lot with { Lot = Elsewhere }, IsOneOf = false }
                    : u.Container is null ? u with { Container = ContainerNumber.Parse("ELSEWHERE") } : u)],
            }),
        ],
    };

    private static FactKey KeyOf(UnitJudgement unit, TraceGap gap) => new(unit.Unit.ToString(), gap.Record, gap.Step?.Value, gap.Requirement?.Value);

    private static FactKey KeyOf(UnitJudgement unit, MaterialUsage usage) => new(unit.Unit.ToString(), usage.Record, usage.Step?.Value, usage.Requirement?.Value);

    private static FactKey KeyOf(UnitJudgement unit, WorkGap gap) => new(unit.Unit.ToString(), gap.Record, gap.Step.Value, gap.Requirement?.Value)
    {
        Of = gap.Kind == WorkGapKind.Step ? FactMissing.Work : FactMissing.Value,
    };

    private static WorkGap Gap(UnitJudgement unit, int number, int choice)
    {
        var isStep = choice % 2 == 0;
        var from = RandomGenealogy.At(choice % RandomGenealogy.Now);
        return new(
            isStep ? WorkGapKind.Step : WorkGapKind.Characteristic,
            isStep ? GapReason.StepNotRecorded : GapReason.NotRecorded,
            StepCode.Parse(choice % 5 == 0 ? "BOND" : "MARRY"),
            isStep ? null : Names[choice % 3 == 0 ? 1 : 0],
            null,
            unit.Usages.Length > number ? unit.Usages[number].Record : Guid.Empty,
            from,
            choice % 7 == 0 ? null : from,
            null,
            null,
            []);
    }
}
