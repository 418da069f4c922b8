using System.Collections.Immutable;
using CsCheck;
using Traceability.Domain.Facts;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Lots;

public sealed class LotJudgeTests
{
    [Theory]
    [InlineData(99, 500)]
    [InlineData(100, 900)]
    [InlineData(101, 900)]
    public void A_recertification_counts_from_when_it_happened_and_for_no_use_before(double at, double expires) =>
        Assert.Equal(expires, new LotWorks().Received("L", 0, expires: 500).Recertified("L", 100, 900).ExpiryAt("L", at));

    [Fact]
    public void An_expiry_set_anew_holds_for_the_whole_life_and_takes_back_a_recertification_before_it()
    {
        var works = new LotWorks().Received("L", 0, expires: 500).Recertified("L", 100, 900);
        works.Tell(200, new LotExpirySet(LotWorks.Key("L"), Some.At(300), "misprint") { OccurredAt = default });
        Assert.Equal((300d, 300d, 300d), (works.ExpiryAt("L", 50), works.ExpiryAt("L", 150), works.ExpiryAt("L", 250)));
        works.Recertified("L", 260, 800);
        Assert.Equal((300d, 300d, 800d), (works.ExpiryAt("L", 50), works.ExpiryAt("L", 259), works.ExpiryAt("L", 260)));
    }

    [Fact]
    public void A_void_recertification_counts_no_more_and_a_corrected_one_as_corrected()
    {
        var works = new LotWorks().Received("L", 0, expires: 500);
        var record = new LotRecertified(LotWorks.Key("L"), Some.At(900), "Report 17", Some.Quality) { OccurredAt = Some.At(100) };
        var id = works.Tell(100, record);
        works.Store("lot/ADH/L", new RecordCorrected(id, record with { ExpiresAt = Some.At(800) }, "misread", Some.Quality) { OccurredAt = Some.At(110) });
        Assert.Equal(800d, works.ExpiryAt("L", 105));
        works.Store("lot/ADH/L", new RecordVoided(id, "no such report", Some.Quality) { OccurredAt = Some.At(120) });
        Assert.Equal(500d, works.ExpiryAt("L", 130));
    }

    [Fact]
    public void What_is_merged_has_the_earliest_expiry_from_then_on()
    {
        var works = new LotWorks().Received("A", 0, expires: 500).Received("B", 0, expires: 300).Received("C", 0).Merged("A", 100, LotWorks.Out("B"), LotWorks.Out("C"));
        Assert.Equal((500d, 300d), (works.ExpiryAt("A", 99), works.ExpiryAt("A", 100)));
        Assert.Equal(300d, works.Merged("M", 110, LotWorks.Out("A")).ExpiryAt("M", 105));
        works.Recertified("A", 120, 700);
        Assert.Equal((700d, 300d), (works.ExpiryAt("A", 120), works.ExpiryAt("M", 120)));
    }

    [Fact]
    public void A_sublot_takes_over_what_is_set_of_its_source_and_not_what_is_certified_of_what_stayed_behind()
    {
        var works = new LotWorks().Received("L", 0, expires: 500).Split("S", 100, LotWorks.Out("L")).Recertified("L", 110, 900);
        Assert.Equal(500d, works.ExpiryAt("S", 200));
        works.Tell(210, new LotExpirySet(LotWorks.Key("L"), Some.At(250), "misprint") { OccurredAt = default });
        Assert.Equal(250d, works.ExpiryAt("S", 200));
        Assert.Equal(650d, works.Recertified("S", 220, 650).ExpiryAt("S", 220));
    }

    [Fact]
    public void Suspicion_reaches_what_was_made_of_the_lot_before_and_is_lifted_by_a_release_of_either()
    {
        var works = new LotWorks().Received("L", 0).Split("S", 10, LotWorks.Out("L")).Merged("M", 20, LotWorks.Out("S")).Quarantined("L", 100);
        Assert.Equal((true, false), (works.IsReleasedAt("M", 99), works.IsReleasedAt("M", 100)));
        Assert.Equal(LotState.Quarantined, works.StateAt("M", 100));
        works.Released("M", 110);
        Assert.Equal((true, false), (works.IsReleasedAt("M", 110), works.IsReleasedAt("S", 110)));
        works.Released("L", 120);
        Assert.True(works.IsReleasedAt("S", 120));
        works.Quarantined("L", 130);
        Assert.Equal((false, false), (works.IsReleasedAt("M", 130), works.IsReleasedAt("S", 130)));
    }

    [Fact]
    public void What_was_in_quarantine_when_it_was_taken_needs_a_release_of_its_own()
    {
        var works = new LotWorks().Received("L", 0).Quarantined("L", 10).Split("S", 20, LotWorks.Out("L")).Released("L", 30);
        Assert.Equal((false, LotState.Received), (works.IsReleasedAt("S", 40), works.StateAt("S", 40)));
        Assert.True(works.Released("S", 50).IsReleasedAt("S", 50));
    }

    [Fact]
    public void A_lot_that_unreleased_material_was_put_into_is_not_released()
    {
        var works = new LotWorks().Received("A", 0).Received("B", 0, isReleased: false).Merged("A", 10, LotWorks.Out("B"));
        Assert.Equal((true, false), (works.IsReleasedAt("A", 9), works.IsReleasedAt("A", 10)));
    }

    [Fact]
    public void An_inspection_covers_what_was_in_the_lot_and_what_was_taken_out_of_it()
    {
        var works = new LotWorks(needsInspection: true).Received("L", 0).Split("S", 10, LotWorks.Out("L"));
        Assert.Equal(LotState.AwaitingInspection, works.StateAt("S", 15));
        works.Inspected("L", 20);
        Assert.Equal((LotState.AwaitingInspection, LotState.Released), (works.StateAt("S", 19), works.StateAt("S", 20)));
        works.Received("B", 21).Merged("L", 30, LotWorks.Out("B"));
        Assert.Equal((LotState.AwaitingInspection, LotState.Released), (works.StateAt("L", 30), works.StateAt("S", 30)));
        Assert.Equal(LotState.Released, works.Inspected("L", 40).StateAt("L", 40));
    }

    [Fact]
    public void Lots_that_run_in_a_circle_are_judged_all_the_same()
    {
        var works = new LotWorks().Received("L", 0, expires: 500).Split("S", 10, LotWorks.Out("L")).Recertified("L", 15, 900).Merged("L", 20, LotWorks.Out("S"));
        Assert.Equal((900d, 500d), (works.ExpiryAt("L", 19), works.ExpiryAt("L", 20)));
        Assert.True(works.IsReleasedAt("L", 30));
        Assert.False(works.Quarantined("S", 40).IsReleasedAt("L", 40));
        works.Store("lot/ADH/L", new LotMerged(LotWorks.Key("L"), [LotWorks.Out("L")], []) { OccurredAt = Some.At(50) });
        Assert.Equal(500d, works.ExpiryAt("L", 60));
        Assert.False(works.IsReleasedAt("L", 60));
    }

    [Fact]
    public void Deeper_than_is_followed_nothing_is_taken_as_good()
    {
        var lots = Enumerable.Range(0, LotJudge.DepthMax + 10).Select(n => Lot.Of(LotWorks.Key($"{n}"),
        [
            new(Some.Id(n), n == 0
                ? new LotReceived(LotWorks.Key("0"), null, null, Some.At(9_000), IsReleased: true, []) { OccurredAt = Some.At(0) }
                : new LotSplit(LotWorks.Key($"{n}"), LotWorks.Out($"{n - 1}"), []) { OccurredAt = Some.At(n) }, Some.At(n)),
        ])).ToDictionary(l => l.Key);
        var judge = new LotJudge(lots.GetValueOrDefault);
        var last = lots[LotWorks.Key($"{LotJudge.DepthMax + 9}")];
        Assert.False(judge.IsReleasedAt(last, Some.At(5_000)));
        Assert.True(judge.ExpiryAt(last, Some.At(5_000)) < Some.At(0));
        Assert.True(new LotJudge(lots.GetValueOrDefault).IsReleasedAt(lots[LotWorks.Key($"{LotJudge.DepthMax - 10}")], Some.At(5_000)));
    }

    [Fact]
    public void An_expiry_through_merges_is_the_earliest_of_all_receipts_that_went_in_by_then() =>
        Gen.Int[0, 1_000].Array[10, 60].Sample(
            choices =>
            {
                var (lots, links, receipts) = Make(choices);
                foreach (var lot in lots.Values)
                {
                    for (var at = 0; at <= 40; at += 7)
                    {
                        var expected = Went(lot.Key, at, links).Select(k => receipts.TryGetValue(k, out var r) ? r : null).Where(r => r is not null).Min();
                        Assert.Equal(expected, new LotJudge(lots.GetValueOrDefault).ExpiryAt(lot, Some.At(at)));
                    }
                }
            },
            iter: 2_000);

    [Fact]
    public void A_lineage_is_the_closure_of_its_links() =>
        Gen.Int[0, 1_000].Array[10, 60].Sample(
            choices =>
            {
                var (lots, links, _) = Make(choices);
                LotKey[] all = [.. lots.Keys];
                var reaches = all.ToDictionary(a => a, a => all.Where(b => links.Any(l => l.From == a && l.Into == b)).ToHashSet());

                // Warshall's closure: whatever reaches k reaches all that k reaches.
                foreach (var k in all)
                {
                    foreach (var a in all.Where(a => reaches[a].Contains(k)))
                    {
                        reaches[a].UnionWith(reaches[k]);
                    }
                }

                foreach (var lot in all)
                {
                    var lineage = LotLineage.Of(lot, lots.Values);
                    Assert.Equal(links.Where(l => l.From == lot || reaches[lot].Contains(l.From)).ToHashSet(), [.. lineage.Derived.Select(l => (l.From, l.Into, Minute(l.At)))]);
                    Assert.Equal(links.Where(l => l.Into == lot || reaches[l.Into].Contains(lot)).ToHashSet(), [.. lineage.Sources.Select(l => (l.From, l.Into, Minute(l.At)))]);
                }
            },
            iter: 2_000);

    private static int Minute(DateTimeOffset at) => (int)(at - Some.Noon).TotalMinutes;

    // What went into a lot by a time, at any depth, each link by its own time; its first inflow counts always.
    private static HashSet<LotKey> Went(LotKey lot, int at, IReadOnlyCollection<(LotKey From, LotKey Into, int At)> links)
    {
        var went = new HashSet<LotKey> { lot };
        var isMade = links.Any(l => l.Into == lot) && lot.Lot.Value.StartsWith('M');
        var first = isMade ? links.Where(l => l.Into == lot).Min(l => l.At) : -1;
        foreach (var link in links.Where(l => l.Into == lot && (l.At <= at || l.At == first)))
        {
            went.UnionWith(Went(link.From, link.At, links));
        }

        return went;
    }

    // Lots R0 to R2 are received, others are made of what is there, each at a minute of its own, so that time runs one way.
    private static (Dictionary<LotKey, Lot> Lots, HashSet<(LotKey From, LotKey Into, int At)> Links, Dictionary<LotKey, DateTimeOffset?> Receipts) Make(int[] choices)
    {
        var facts = new Dictionary<LotKey, ImmutableArray<RecordedFact>>();
        var links = new HashSet<(LotKey, LotKey, int)>();
        var receipts = new Dictionary<LotKey, DateTimeOffset?>();
        var next = 0;
        var id = 0;
        for (var n = 0; n < 3; n++)
        {
            var key = LotWorks.Key($"R{n}");
            receipts[key] = Pick(4) == 0 ? null : Some.At(100 + Pick(50));
            Store(key, new LotReceived(key, null, null, receipts[key], IsReleased: true, []) { OccurredAt = Some.At(n) });
        }

        for (var minute = 3; next < choices.Length && minute < 30; minute += 1 + Pick(2))
        {
            LotKey[] there = [.. facts.Keys];
            var into = Pick(3) > 0 ? LotWorks.Key($"M{minute}") : there[Pick(there.Length)];
            var from = Enumerable.Range(0, 1 + Pick(2)).Select(_ => there[Pick(there.Length)]).Where(k => k != into).Distinct().ToArray();
            if (from.Length > 0)
            {
                links.UnionWith(from.Select(f => (f, into, minute)));
                Store(into, new LotMerged(into, [.. from.Select(f => new LotSource(f, null, null))], []) { OccurredAt = Some.At(minute) });
            }
        }

        return (facts.ToDictionary(f => f.Key, f => Lot.Of(f.Key, f.Value)), links, receipts);

        int Pick(int below) => next < choices.Length ? choices[next++] % below : 0;

        void Store(LotKey key, Fact fact) => facts[key] = facts.GetValueOrDefault(key, []).Add(new(Some.Id(++id), fact, fact.OccurredAt));
    }
}
