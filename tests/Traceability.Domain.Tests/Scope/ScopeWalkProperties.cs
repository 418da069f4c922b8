using CsCheck;
using Traceability.Domain.Scope;
using Traceability.Testing;
using Traceability.Testing.Scope;
using Xunit;

namespace Traceability.Domain.Tests.Scope;

public sealed class ScopeWalkProperties
{
    private const long CompletionsMax = 4_000;

    private static long Cases => TestLength.IsLong ? 200_000 : 5_000;

    private static readonly Gen<int[]> Choices = Gen.Int[0, 719].Array[100, 280];

    [Fact]
    public void Proven_is_in_every_way_to_fill_the_holes_possible_in_some_and_outside_in_none() =>
        Choices.Sample(
            choices =>
            {
                var history = RandomGenealogy.From(choices, holesMax: 4);
                var oracle = new ScopeOracle(history);
                if (oracle.Count > CompletionsMax)
                {
                    return;
                }

                var members = Walk(history).Members.ToDictionary(m => m.Unit, StringComparer.Ordinal);
                foreach (var (unit, tried) in oracle.Try())
                {
                    ScopeMember? found = members.TryGetValue(unit, out var known) ? known : null;
                    Assert.Equal(Verdict(tried.InAll, tried.InSome), found?.Verdict);
                    Assert.Equal(Verdict(tried.NowInAll, tried.NowInSome), found?.Now);
                    if (found is { } member)
                    {
                        Assert.Equal(tried.First, member.From is { } from ? RandomGenealogy.MinuteOf(from) : 0);
                        Assert.Equal(tried.Last, member.To is { } to ? RandomGenealogy.MinuteOf(to) - 1 : RandomGenealogy.Now - 1);
                    }
                }
            },
            iter: Cases,
            print: Print);

    [Fact]
    public void No_unit_that_truly_carries_the_suspect_is_outside_or_cleared_and_every_proven_one_carries_it() =>
        Choices.Sample(
            choices =>
            {
                var history = RandomGenealogy.From(choices, holesMax: 30);
                var scope = Walk(history);
                var members = scope.Members.ToDictionary(m => m.Unit, StringComparer.Ordinal);
                var cleared = Cleared(history, scope).Select(c => c.Unit).ToHashSet(StringComparer.Ordinal);
                foreach (var (unit, minutes) in history.Truth)
                {
                    if (minutes.Contains(true))
                    {
                        Assert.True(members.ContainsKey(unit), $"{unit} carries it and is not a member.");
                        Assert.DoesNotContain(unit, cleared);
                    }

                    if (minutes[^1])
                    {
                        Assert.True(members[unit].Now is not null, $"{unit} carries it now and is called clear now.");
                    }

                    if (members.TryGetValue(unit, out var member) && member.Verdict == ScopeVerdict.Proven)
                    {
                        Assert.Contains(true, minutes);
                    }
                }
            },
            iter: 4 * Cases,
            print: Print);

    [Fact]
    public void A_unit_is_cleared_by_a_record_that_names_another_one_and_never_while_it_is_a_member() =>
        Choices.Sample(
            choices =>
            {
                var history = RandomGenealogy.From(choices, holesMax: 30);
                var scope = Walk(history);
                var members = scope.Members.Select(m => m.Unit).ToHashSet(StringComparer.Ordinal);
                foreach (var cleared in Cleared(history, scope))
                {
                    Assert.DoesNotContain(cleared.Unit, members);
                    var container = (history.Factor as SuspectContainer)?.Container.Value;
                    var namesAnotherLot = !string.Equals(cleared.Evidence.Lot, history.Factor.Lot.ToString(), StringComparison.Ordinal);
                    var namesAnotherContainer = container is not null && cleared.Evidence.Container is { } named
                        && !string.Equals(named, container, StringComparison.Ordinal);
                    Assert.True(namesAnotherLot || namesAnotherContainer);
                }
            },
            iter: Cases,
            print: Print);

    [Fact]
    public void Every_path_leads_over_rows_that_exist_each_hop_within_the_time_of_the_one_before() =>
        Choices.Sample(
            choices =>
            {
                var history = RandomGenealogy.From(choices, holesMax: 30);
                var source = new JudgementScopeSource(history.Records);
                foreach (var member in Walk(history).Members)
                {
                    var evidence = source.EvidenceAsync([.. ScopeWords.Keys(member.Best)], default).AsTask().Result;
                    var path = ScopeWords.Path(history.Factor, member.Best, evidence);
                    Assert.Equal(member.Unit, path[0].Unit);
                    Assert.Equal(history.Factor.ToString(), path[^1].Source);
                    Assert.All(path.Zip(path.Skip(1)), pair => Assert.Equal(pair.First.Source, pair.Second.Unit));
                    Assert.Equal(member.Verdict == ScopeVerdict.Proven, member.Best.IsProven);
                    Assert.Contains(member.Unit, ScopeWords.Reason(member, path), StringComparison.Ordinal);
                    for (var hop = member.Best; hop is not null; hop = hop.Via)
                    {
                        Assert.True(hop.From < hop.To);
                        Assert.True(hop.Kind != HopKind.Installed || (hop.Via!.From <= hop.From && hop.To <= hop.Via.To));
                        Assert.Equal(hop.Kind is HopKind.Installed or HopKind.SerialMissing, hop.Via is not null);
                        Assert.True(!hop.IsProven || hop.Via is null or { IsProven: true });
                    }
                }
            },
            iter: Cases,
            print: Print);

    [Fact]
    public void The_histories_that_are_tried_meet_every_kind_of_hop_and_verdict_often()
    {
        var seen = new System.Collections.Concurrent.ConcurrentDictionary<string, int>(StringComparer.Ordinal);
        Choices.Sample(
            choices =>
            {
                var history = RandomGenealogy.From(choices, holesMax: 4);
                var scope = Walk(history);
                var tooMany = new ScopeOracle(history).Count > CompletionsMax;
                Count(tooMany ? "left out" : "tried");
                foreach (var member in scope.Members)
                {
                    Count($"{member.Verdict}, now {(member.Now is { } now ? now : "clear")}");
                    Count($"{(member.Best.Via is null ? 1 : member.Best.Via.Via is null ? 2 : 3)} hops");
                    for (var hop = member.Best; hop is not null; hop = hop.Via)
                    {
                        Count($"{hop.Kind}");
                    }
                }

                if (history.Records.Any(r => r.Installations.Any(i => i.Uncertainty > TimeSpan.Zero)))
                {
                    Count("a stay by a doubtful clock");
                }

                Count(Cleared(history, scope).Count > 0 ? "some cleared" : "none cleared");
            },
            iter: Cases);

        string[] kinds = [.. Enum.GetNames<HopKind>().Take((int)HopKind.Itself), "Proven, now Proven", "Proven, now Possible", "Proven, now clear",
            "Possible, now Possible", "Possible, now clear", "1 hops", "2 hops", "3 hops", "some cleared", "none cleared", "a stay by a doubtful clock"];
        Assert.All(kinds, kind => Assert.True(seen.GetValueOrDefault(kind) >= Cases / 100, $"{kind}: {seen.GetValueOrDefault(kind)} times"));
        Assert.True(seen["tried"] > 20 * seen.GetValueOrDefault("left out"), $"{seen.GetValueOrDefault("left out")} left out");

        void Count(string what) => seen.AddOrUpdate(what, 1, (_, count) => count + 1);
    }

    // Half of them as if there were too many units to look each up with everything about it.
    private static LotScopeResult Walk(RandomGenealogy history) =>
        ScopeWalk.RunAsync(
            history.Factor,
            history.Presence,
            history.Carriers,
            new JudgementScopeSource(history.Records) { FewUnits = history.Records.Sum(r => r.Usages.Length) % 2 == 0 ? 0 : 1_000 },
            default).AsTask().Result;

    private static IReadOnlyList<ClearedUnit> Cleared(RandomGenealogy history, LotScopeResult scope) =>
        new JudgementScopeSource(history.Records)
            .ClearedAsync([scope.Clearing], [.. scope.Members.Select(m => m.Unit)], null, int.MaxValue, default).AsTask().Result;

    private static ScopeVerdict? Verdict(bool inAll, bool inSome) =>
        inAll ? ScopeVerdict.Proven : inSome ? ScopeVerdict.Possible : null;

    private static string Print(int[] choices) =>
        string.Join(",", choices) + "\n" + RandomGenealogy.From(choices, 4);
}
