using CsCheck;
using Traceability.Domain.Scope;
using Traceability.Testing;
using Traceability.Testing.Scope;
using Xunit;

namespace Traceability.Domain.Tests.Scope;

/// <summary>Searches for every kind of suspect, and for combinations of them, against a brute force.</summary>
public sealed class ScopeSearchProperties
{
    private const long CompletionsMax = 1_000;

    private static long Cases => TestLength.IsLong ? 200_000 : 6_000;

    private static readonly Gen<int[]> Choices = Gen.Int[0, 719].Array[300, 620];

    [Fact]
    public void One_suspect_of_any_kind_reaches_what_it_reaches_in_some_way_to_fill_the_holes_and_provenly_in_all() =>
        Choices.Sample(
            choices =>
            {
                var work = RandomWork.From(choices, holesMax: 3);
                var oracle = new ScopeOracle(work);
                if (work.Suspect is not SingleSuspect || oracle.Count > CompletionsMax)
                {
                    return;
                }

                var members = Search(work).Members.ToDictionary(m => m.Unit, StringComparer.Ordinal);
                foreach (var (unit, tried) in oracle.Try())
                {
                    FoundMember? member = members.TryGetValue(unit, out var found) ? found : null;
                    Assert.True(Verdict(tried.InAll, tried.InSome) == member?.Verdict, $"{unit}: {member?.Verdict} instead of {Verdict(tried.InAll, tried.InSome)}");
                    Assert.True(Verdict(tried.NowInAll, tried.NowInSome) == member?.Now, $"{unit}: now {member?.Now} instead of {Verdict(tried.NowInAll, tried.NowInSome)}");
                    if (member is not null)
                    {
                        Assert.Equal(tried.First, member?.From is { } from ? Math.Max(RandomGenealogy.MinuteOf(from), 0) : 0);
                        Assert.Equal(tried.Last, member?.To is { } to ? RandomGenealogy.MinuteOf(to) - 1 : RandomGenealogy.Now - 1);
                    }
                }
            },
            iter: Cases,
            print: Print);

    [Fact]
    public void A_combination_is_never_too_narrow_and_proves_nothing_that_is_not_so_in_every_way_to_fill_the_holes() =>
        Choices.Sample(
            choices =>
            {
                var work = RandomWork.From(choices, holesMax: 3);
                var oracle = new ScopeOracle(work);
                if (oracle.Count > CompletionsMax)
                {
                    return;
                }

                var members = Search(work).Members.ToDictionary(m => m.Unit, StringComparer.Ordinal);
                foreach (var (unit, tried) in oracle.Try())
                {
                    FoundMember? member = members.TryGetValue(unit, out var found) ? found : null;
                    Assert.True(!tried.InSome || member is not null, $"{unit} may be one and is no member.");
                    Assert.True(member is not { Verdict: ScopeVerdict.Proven } || tried.InAll, $"{unit} is called proven and need not be one.");
                }
            },
            iter: Cases,
            print: Print);

    [Fact]
    public void Every_way_of_every_member_is_told_in_words_from_rows_that_exist() =>
        Choices.Sample(
            choices =>
            {
                var work = RandomWork.From(choices, holesMax: 20);
                var found = Search(work);
                Assert.Equal(found.Members.Select(m => m.Unit).Order(StringComparer.Ordinal), found.Members.Select(m => m.Unit));
                var evidence = found.Genealogy.Source
                    .EvidenceAsync([.. found.Members.SelectMany(m => m.Ways).SelectMany(w => ScopeWords.Keys(w.Member.Best))], default).AsTask().Result;
                foreach (var member in found.Members)
                {
                    Assert.InRange(member.Together, 1, member.Ways.Length);
                    Assert.Contains(member.Unit, ScopeWords.Reason(member, evidence), StringComparison.Ordinal);
                    Assert.True(member.Verdict == ScopeVerdict.Possible || member.Ways.Take(member.Together).All(w => w.Member.Verdict == ScopeVerdict.Proven));
                    foreach (var way in member.Ways)
                    {
                        var path = ScopeWords.Path(way.Suspect, way.Member.Best, evidence);
                        Assert.Equal(member.Unit, path[0].Unit);
                        Assert.Equal(way.Suspect.ToString(), path[^1].Source);
                    }
                }
            },
            iter: Cases / 2,
            print: Print);

    [Fact]
    public void The_questions_that_are_tried_meet_every_kind_of_suspect_and_hop_often()
    {
        var seen = new System.Collections.Concurrent.ConcurrentDictionary<string, int>(StringComparer.Ordinal);
        Choices.Sample(
            choices =>
            {
                var work = RandomWork.From(choices, holesMax: 3);
                Count(new ScopeOracle(work).Count > CompletionsMax ? "left out" : "tried");
                Count(work.Suspect.GetType().Name);
                foreach (var member in Search(work).Members)
                {
                    Count($"{member.Verdict}");
                    foreach (var way in member.Ways)
                    {
                        for (var hop = way.Member.Best; hop is not null; hop = hop.Via)
                        {
                            Count($"{hop.Kind}");
                        }
                    }
                }
            },
            iter: Cases / 2);

        string[] kinds =
        [
            .. Enum.GetNames<HopKind>().Skip((int)HopKind.Itself), "Proven", "Possible", nameof(SuspectAll), nameof(SuspectAny), nameof(SuspectExcept),
            nameof(SuspectTool), nameof(SuspectWork), nameof(SuspectMeasured), nameof(SuspectInterval), nameof(SuspectComponent), nameof(SuspectLot), nameof(SuspectContainer),
        ];
        Assert.All(kinds, kind => Assert.True(seen.GetValueOrDefault(kind) >= Cases / 400, $"{kind}: {seen.GetValueOrDefault(kind)} times"));
        Assert.True(seen["tried"] > 5 * seen.GetValueOrDefault("left out"), $"{seen.GetValueOrDefault("left out")} left out");

        void Count(string what) => seen.AddOrUpdate(what, 1, (_, count) => count + 1);
    }

    private static ScopeFound Search(RandomWork work) =>
        ScopeSearch.RunAsync(work.Suspect, new JudgementScopeSource(work.Records), work.Knowledge, default).AsTask().Result;

    private static ScopeVerdict? Verdict(bool inAll, bool inSome) =>
        inAll ? ScopeVerdict.Proven : inSome ? ScopeVerdict.Possible : null;

    private static string Print(int[] choices) => string.Join(",", choices) + "\n" + RandomWork.From(choices, 3);
}
