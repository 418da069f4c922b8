using System.Collections.Immutable;
using System.Globalization;
using CsCheck;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Lots;
using Traceability.Domain.Scope;
using Traceability.Service.Ingest;
using Traceability.Service.Storage;
using Traceability.Service.Tests.ContractTests;
using Traceability.Testing;
using Traceability.Testing.Building;
using Xunit;
using Xunit.Abstractions;

namespace Traceability.Service.Tests.Poison;

/// <summary>Stored JSON damaged at random never makes reading, folding or judging fail: what can't be read is an explicit unknown.</summary>
public sealed class DamageTests(ITestOutputHelper output)
{
    private static int Seed => int.TryParse(Environment.GetEnvironmentVariable("TRACEABILITY_TEST_SEED"), CultureInfo.InvariantCulture, out var seed) ? seed : 20260302;

    [Fact]
    public void Every_sample_damaged_at_random_is_read_as_a_fact_or_as_an_unknown()
    {
        var dice = new Dice(Seed);
        output.WriteLine($"Seed {Seed}");
        int unreadable = 0, read = 0;
        foreach (var sample in SampleFacts.All)
        {
            var (name, json) = (EventNames.Of(sample.GetType()), FactCodec.Serialize(sample));
            for (var i = 0; i < (TestLength.IsLong ? 10_000 : 400); i++)
            {
                var damaged = JsonDamage.Of(json, dice);
                var fact = FactCodec.Deserialize(name, damaged, Some.Noon);
                if (fact is UnreadableFact unknown)
                {
                    Assert.Equal((name, damaged), (unknown.StoredName, unknown.Content));
                    Assert.NotEmpty(unknown.Reason);
                    unreadable++;
                }
                else
                {
                    // What was read can be written and read again.
                    Assert.False(FactCodec.Deserialize(name, FactCodec.Serialize(fact), Some.Noon) is UnreadableFact, damaged);
                    read++;
                }
            }
        }

        output.WriteLine($"{unreadable} unreadable, {read} read");
        Assert.True(unreadable > 1_000 && read > 1_000);
        LongForm.Note(
            "9: stored events damaged at random, read",
            FormattableString.Invariant($"{unreadable + read} of {SampleFacts.All.Length} kinds; seed {Seed}"),
            FormattableString.Invariant($"{unreadable} told as unreadable, {read} read, no failure"));
    }

    [Theory]
    [InlineData("{")]
    [InlineData("")]
    [InlineData("null")]
    [InlineData("[]")]
    [InlineData("\"text\"")]
    [InlineData("{\"occurredAt\":\"2026-03-02T08:00:00Z\"}")]
    public void Text_that_is_no_event_is_an_unknown(string text) =>
        Assert.All(EventNames.All, e => Assert.IsType<UnreadableFact>(FactCodec.Deserialize(e.Name, text, Some.Noon)));

    [Fact]
    public void Nothing_damaged_makes_folding_judging_or_asking_fail()
    {
        var (judged, unknown) = (0, 0);
        var dice = new Dice(Seed);
        output.WriteLine($"Seed {Seed}");
        Histories.Facts.Sample(
            facts =>
            {
                // Shares of damage from little to most, in the unit and in what it is judged by.
                var share = dice.Share() * dice.Share();
                var references = Histories.Streams.Aggregate(References.None, (r, s) => r.With(s.Key, References.Fold(s.Key, Damage(s.Value, share, dice))));
                var unit = ProductUnit.Of(Histories.Lamp, Damage(facts, share, dice));

                var judgement = Judge.Unit(unit, references);

                // Judging has a net of its own, which says so: it must not have been needed.
                Assert.Empty(judgement.Findings.Where(f => f.Kind == FindingKinds.UnitNotJudged).Select(f => f.Message));
                Assert.True(!unit.Effective.Any(f => f.Fact is UnreadableFact) || judgement.Status.HasUnreadable);
                _ = UnitRows.Of(judgement).Ids();
                var answer = Readiness.Ask(unit, references, new(Some.Step("BOND"), Some.Station, Some.Person, [], [], [], Some.At(20)));
                Assert.DoesNotContain(answer.Reasons, r => r.Kind == FindingKinds.UnitNotJudged);
                Assert.True(!judgement.Status.HasUnreadable || answer.Verdict == ReadinessVerdict.No);
                _ = Readiness.NextSteps(unit, references);
                foreach (var lot in Histories.Streams.Keys.Where(k => k.StartsWith("lot/", StringComparison.Ordinal)))
                {
                    var key = Some.Lot(lot.Split('/')[1], lot.Split('/')[2]);
                    _ = LotPresence.Of(new SuspectLot(key), Lot.Of(key, Damage(Histories.Streams[lot], 0.5, dice)));
                }

                judged++;
                unknown += judgement.Status.HasUnreadable ? 1 : 0;
            },
            iter: TestLength.IsLong ? 50_000 : 1_500,
            threads: 1);
        output.WriteLine($"{judged} judged, {unknown} with something unreadable");
        Assert.InRange(unknown, judged / 10, judged - 1);
        LongForm.Note(
            "9: histories with damaged events, folded, judged and asked",
            FormattableString.Invariant($"{judged} histories; seed {Seed}"),
            FormattableString.Invariant($"{unknown} judged with something unreadable and said so, no failure"));
    }

    private static ImmutableArray<RecordedFact> Damage(ImmutableArray<RecordedFact> facts, double share, Dice dice) =>
    [
        .. facts.Select(f => f.Fact is UnreadableFact || dice.Share() > share
            ? f
            : f with { Fact = FactCodec.Deserialize(NameOf(f.Fact, dice), JsonDamage.Of(FactCodec.Serialize(f.Fact), dice), f.RecordedAt) }),
    ];

    private static string NameOf(Fact fact, Dice dice) => dice.Next(10) == 0 ? "torque_audited" : EventNames.Of(fact.GetType());
}
