using Traceability.Domain.Judging;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Judging;

/// <summary>The "then" of judging tests.</summary>
internal static class JudgementAssertions
{
    /// <summary>Exactly these findings, as "kind" or "kind rule", in any order.</summary>
    public static UnitJudgement ShouldFind(this UnitStory story, params string[] findings)
    {
        var judgement = story.Judgement;
        Assert.Equal(
            findings.Order(StringComparer.Ordinal),
            judgement.Findings.Select(f => $"{f.Kind} {f.Rule}".TrimEnd()).Order(StringComparer.Ordinal));
        return judgement;
    }

    public static Finding Only(this UnitJudgement judgement, string kind) => Assert.Single(judgement.Findings, f => f.Kind == kind);
}
