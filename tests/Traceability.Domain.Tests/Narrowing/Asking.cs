using System.Collections.Immutable;
using Traceability.Domain.Judging;
using Traceability.Domain.Lots;
using Traceability.Domain.Narrowing;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;
using Traceability.Testing.Scope;

namespace Traceability.Domain.Tests.Narrowing;

/// <summary>Asks questions of a random history.</summary>
internal static class Asking
{
    private static readonly LotNumber Elsewhere = LotNumber.Parse("ELSEWHERE");

    public static MissingFactLimits Everything { get; } = new(Candidates: 10_000, Tries: 10_000, Facts: 10_000, Groups: 100, Steps: 100);

    public static ScopeKnowledge Knowledge(RandomGenealogy history) => new(
        new Dictionary<LotKey, IReadOnlyDictionary<LotKey, Lot>> { [history.Factor.Lot] = history.Lots.SetItem(history.Factor.Lot, history.Lot) });

    public static ScopeFound Ask(RandomGenealogy history, Suspect suspect, IScopeSource source) =>
        ScopeSearch.RunAsync(suspect, source, Knowledge(history), default).AsTask().Result;

    public static ImmutableArray<string> Members(RandomGenealogy history, Suspect suspect, IEnumerable<UnitJudgement> records) =>
        [.. Ask(history, suspect, new JudgementScopeSource(records)).Members.Select(m => m.Unit)];

    public static ImmutableArray<string> Possible(RandomGenealogy history, Suspect suspect) =>
        [.. Ask(history, suspect, new JudgementScopeSource(history.Records)).Members.Where(m => m.Verdict == ScopeVerdict.Possible).Select(m => m.Unit)];

    public static MissingFacts Search(RandomGenealogy history, Suspect suspect, MissingFactLimits limits, IEnumerable<UnitJudgement>? records = null)
    {
        var source = new WhatIfSource(new JudgementScopeSource(records ?? history.Records));
        return MissingFactSearch.RunAsync(Ask(history, suspect, source), source, Knowledge(history), limits, () => true, default).AsTask().Result;
    }

    /// <summary>Every missing fact of the records.</summary>
    public static ImmutableArray<FactKey> Facts(RandomGenealogy history) =>
    [
        .. history.Records.SelectMany(r =>
            r.Gaps.Select(g => new FactKey(r.Unit.ToString(), g.Record, g.Step.Value, g.Requirement.Value))
                .Concat(r.Usages.Where(u => u.IsOneOf || u.Container is null).Select(u => new FactKey(r.Unit.ToString(), u.Record, u.Step?.Value, u.Requirement?.Value))))
            .Distinct(),
    ];

    /// <summary>The records as they would be, had these facts been recorded and named something else.</summary>
    public static ImmutableArray<UnitJudgement> Recorded(RandomGenealogy history, IReadOnlySet<FactKey> facts) =>
    [
        .. history.Records.Select(r => r with
        {
            Gaps = [.. r.Gaps.Where(g => !facts.Contains(new(r.Unit.ToString(), g.Record, g.Step.Value, g.Requirement.Value)))],
            Usages = [.. r.Usages.Select(u => !facts.Contains(new(r.Unit.ToString(), u.Record, u.Step?.Value, u.Requirement?.Value)) ? u
                : u.IsOneOf ? u with { Lot = u.Lot with { Lot = Elsewhere }, IsOneOf = false }
                : u.Container is null ? u with { Container = ContainerNumber.Parse("ELSEWHERE") } : u)],
        }),
    ];
}
