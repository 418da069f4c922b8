using System.Collections.Concurrent;
using System.Collections.Immutable;
using CsCheck;
using Traceability.Domain.Narrowing;
using Traceability.Domain.Scope;
using Traceability.Testing;
using Traceability.Testing.Scope;
using Xunit;

namespace Traceability.Domain.Tests.Narrowing;

/// <summary>What a missing fact is said to clear, against records in which it was recorded and named something else.</summary>
public sealed class MissingFactProperties
{
    private static long Cases => TestLength.IsLong ? 50_000 : 1_500;

    private static readonly Gen<int[]> Choices = Gen.Int[0, 719].Array[100, 280];

    [Fact]
    public void Recording_a_fact_that_names_something_else_clears_exactly_the_members_that_were_said() => Sample(asking =>
    {
        var found = asking.Search(Asking.Everything);
        foreach (var fact in found.Facts)
        {
            Assert.Equal<string>(Gone(asking, fact.Fact), fact.Cleared);
        }

        foreach (var group in found.Groups)
        {
            Assert.Equal<string>(Gone(asking, [.. group.Facts]), group.Cleared);
        }
    });

    [Fact]
    public void No_fact_that_clears_a_member_is_left_out_and_those_that_clear_most_come_first() => Sample(asking =>
    {
        // Where a member is possible for another part of the question, a record that names several lots, all of the suspect, holds it too;
        // naming something else would contradict that record, so it is no missing fact, and the count by hand below would take it for one.
        if (HasParts(asking.Suspect))
        {
            return;
        }

        var all = asking.Facts().Select(f => Gone(asking, f).Length).Where(n => n > 0).OrderDescending().ToArray();

        var everything = asking.Search(Asking.Everything);
        Assert.Equal(all, everything.Facts.Select(f => f.Cleared.Length));
        Assert.True(everything.IsRanked);

        var few = asking.Search(new(Candidates: 10_000, Tries: 10_000, Facts: 2, Groups: 0, Steps: 0));
        Assert.Equal(all.Take(2), few.Facts.Select(f => f.Cleared.Length));
        Assert.True(few.IsRanked);
    });

    private static bool HasParts(Suspect suspect) => suspect switch
    {
        SuspectAny any => any.Of.Any(HasParts),
        SingleSuspect => false,
        _ => true,
    };

    [Fact]
    public void The_order_clears_what_it_says_step_by_step() => Sample(asking =>
    {
        var facts = new List<FactKey>();
        foreach (var step in asking.Search(Asking.Everything).Order)
        {
            facts.Add(step.Fact.Fact);
            Assert.Equal(Gone(asking, [.. facts]).Length, step.ClearedSoFar);
        }

        Assert.Equal(facts.Count, facts.Distinct().Count());
    });

    [Fact]
    public void When_the_order_ends_nothing_that_is_missing_leads_to_a_member_any_more() => Sample(asking =>
    {
        var facts = asking.Search(Asking.Everything).Order.Select(s => s.Fact.Fact).ToHashSet();
        var left = asking.Recorded(facts).Search(Asking.Everything);
        Assert.Equal((0, 0), (left.Candidates, left.Facts.Length));
    });

    [Fact]
    public void A_search_that_may_not_go_on_says_that_it_is_not_ranked_and_leaves_the_rows_as_they_are() => Sample(asking =>
    {
        var source = new WhatIfSource(new JudgementScopeSource(asking.Records));
        var found = Asking.Ask(asking, source);
        var tries = 0;
        var facts = MissingFactSearch.RunAsync(found, source, asking.Knowledge, Asking.Everything, () => tries++ < 1, default).AsTask().Result;
        Assert.True(facts.IsRanked || facts.Candidates > 1);
        Assert.True(facts.Tried <= 1);
        Assert.Equal(found.Members.Select(m => (m.Unit, m.Verdict)), Asking.Ask(asking, source).Members.Select(m => (m.Unit, m.Verdict)));
    });

    [Fact]
    public void The_histories_that_are_tried_have_facts_of_every_kind_that_clear_one_unit_and_several()
    {
        var seen = new ConcurrentDictionary<string, int>(StringComparer.Ordinal);
        Sample(asking =>
        {
            foreach (var fact in asking.Search(Asking.Everything).Facts)
            {
                seen.AddOrUpdate($"{fact.Missing}", 1, (_, n) => n + 1);
                seen.AddOrUpdate(fact.Cleared.Length == 1 ? "one" : "several", 1, (_, n) => n + 1);
                seen.AddOrUpdate(fact.Cleared.Contains(fact.Fact.Unit) ? "its own unit" : "only others", 1, (_, n) => n + 1);
            }
        });

        string[] kinds = ["Lot", "Container", "Serial", "WhichLot", "Work", "Value", "one", "several", "its own unit"];
        Assert.All(kinds, kind => Assert.True(seen.GetValueOrDefault(kind) >= Cases / 100, $"{kind}: {seen.GetValueOrDefault(kind)} times"));
    }

    private static void Sample(Action<Asking> check) => Choices.Sample(
        choices => check(Asking.From(choices)),
        iter: Cases,
        print: choices => $"{Asking.From(choices).Suspect}\n{RandomGenealogy.From(choices, 8)}\n{string.Join("\n", Asking.From(choices).Records.SelectMany(r => r.WorkGaps.Select(g => $"{r.Unit} {g}")))}");

    private static ImmutableArray<string> Gone(Asking asking, params FactKey[] facts)
    {
        var after = asking.Recorded(facts.ToHashSet()).Members().ToHashSet(StringComparer.Ordinal);
        return [.. asking.Possible().Where(u => !after.Contains(u))];
    }
}
