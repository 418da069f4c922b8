using System.Collections.Concurrent;
using System.Collections.Immutable;
using CsCheck;
using Traceability.Domain.Narrowing;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;
using Traceability.Testing.Scope;
using Xunit;

namespace Traceability.Domain.Tests.Narrowing;

/// <summary>What a missing fact is said to clear, against records in which it was recorded and named something else.</summary>
public sealed class MissingFactProperties
{
    private const int Cases = 1_500;

    private static readonly Gen<int[]> Choices = Gen.Int[0, 719].Array[100, 280];

    [Fact]
    public void Recording_a_fact_that_names_something_else_clears_exactly_the_members_that_were_said() =>
        Sample((history, suspect) =>
        {
            var before = Asking.Possible(history, suspect);
            var found = Asking.Search(history, suspect, Asking.Everything);
            foreach (var fact in found.Facts)
            {
                Assert.Equal<string>(Gone(history, suspect, before, fact.Fact), fact.Cleared);
            }

            foreach (var group in found.Groups)
            {
                Assert.Equal<string>(Gone(history, suspect, before, [.. group.Facts]), group.Cleared);
            }
        });

    [Fact]
    public void No_fact_that_clears_a_member_is_left_out_and_those_that_clear_most_come_first() =>
        Sample((history, suspect) =>
        {
            var before = Asking.Possible(history, suspect);
            var all = Asking.Facts(history).Select(f => Gone(history, suspect, before, f).Length).Where(n => n > 0).OrderDescending().ToArray();

            var everything = Asking.Search(history, suspect, Asking.Everything);
            Assert.Equal(all, everything.Facts.Select(f => f.Cleared.Length));
            Assert.True(everything.IsRanked);

            var few = Asking.Search(history, suspect, new(Candidates: 10_000, Tries: 10_000, Facts: 2, Groups: 0, Steps: 0));
            Assert.Equal(all.Take(2), few.Facts.Select(f => f.Cleared.Length));
            Assert.True(few.IsRanked);
        });

    [Fact]
    public void The_order_clears_what_it_says_step_by_step() =>
        Sample((history, suspect) =>
        {
            var before = Asking.Possible(history, suspect);
            var facts = new List<FactKey>();
            foreach (var step in Asking.Search(history, suspect, Asking.Everything).Order)
            {
                facts.Add(step.Fact.Fact);
                Assert.Equal(Gone(history, suspect, before, [.. facts]).Length, step.ClearedSoFar);
            }

            Assert.Equal(facts.Count, facts.Distinct().Count());
        });

    [Fact]
    public void When_the_order_ends_nothing_that_is_missing_leads_to_a_member_any_more() =>
        Sample((history, suspect) =>
        {
            var facts = Asking.Search(history, suspect, Asking.Everything).Order.Select(s => s.Fact.Fact).ToHashSet();
            var left = Asking.Search(history, suspect, Asking.Everything, Asking.Recorded(history, facts));
            Assert.Equal((0, 0), (left.Candidates, left.Facts.Length));
        });

    [Fact]
    public void A_search_that_may_not_go_on_says_that_it_is_not_ranked_and_leaves_the_rows_as_they_are() =>
        Sample((history, suspect) =>
        {
            var source = new WhatIfSource(new JudgementScopeSource(history.Records));
            var found = Asking.Ask(history, suspect, source);
            var tries = 0;
            var facts = MissingFactSearch.RunAsync(found, source, Asking.Knowledge(history), Asking.Everything, () => tries++ < 1, default).AsTask().Result;
            Assert.True(facts.IsRanked || facts.Candidates > 1);
            Assert.True(facts.Tried <= 1);
            Assert.Equal(found.Members.Select(m => (m.Unit, m.Verdict)), Asking.Ask(history, suspect, source).Members.Select(m => (m.Unit, m.Verdict)));
        });

    [Fact]
    public void The_histories_that_are_tried_have_facts_of_every_kind_that_clear_one_unit_and_several()
    {
        var seen = new ConcurrentDictionary<string, int>(StringComparer.Ordinal);
        Sample((history, suspect) =>
        {
            foreach (var fact in Asking.Search(history, suspect, Asking.Everything).Facts)
            {
                seen.AddOrUpdate($"{fact.Missing}", 1, (_, n) => n + 1);
                seen.AddOrUpdate(fact.Cleared.Length == 1 ? "one" : "several", 1, (_, n) => n + 1);
                seen.AddOrUpdate(fact.Cleared.Contains(fact.Fact.Unit) ? "its own unit" : "only others", 1, (_, n) => n + 1);
            }
        });

        string[] kinds = ["Lot", "Container", "Serial", "WhichLot", "one", "several", "its own unit"];
        Assert.All(kinds, kind => Assert.True(seen.GetValueOrDefault(kind) >= Cases / 100, $"{kind}: {seen.GetValueOrDefault(kind)} times"));
    }

    private static void Sample(Action<RandomGenealogy, Suspect> check) => Choices.Sample(
        choices =>
        {
            var history = RandomGenealogy.From(choices, holesMax: 8);
            check(history, Suspect(history, choices[0]));
        },
        iter: Cases,
        print: choices => RandomGenealogy.From(choices, 8).ToString());

    // The history's own suspect, alone and in combinations.
    private static Suspect Suspect(RandomGenealogy history, int choice)
    {
        var whole = new SuspectLot(history.Factor.Lot);
        var container = new SuspectContainer(history.Factor.Lot, ContainerNumber.Parse("C2"));
        return (choice % 5) switch
        {
            0 => new SuspectAny([container, history.Factor]),
            1 => new SuspectAll([whole, history.Factor]),
            _ => history.Factor,
        };
    }

    private static ImmutableArray<string> Gone(RandomGenealogy history, Suspect suspect, ImmutableArray<string> before, params FactKey[] facts)
    {
        var after = Asking.Members(history, suspect, Asking.Recorded(history, facts.ToHashSet())).ToHashSet(StringComparer.Ordinal);
        return [.. before.Where(u => !after.Contains(u))];
    }
}
