using System.Collections.Immutable;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Scope;

/// <summary>One example for each sentence of the domain brief, "Recall scope".</summary>
public sealed class ScopeWalkTests
{
    private static readonly LotKey L77 = Some.Lot("ADH-1", "L77");
    private static readonly SuspectLot Suspect = new(L77);
    private static readonly SuspectContainer SuspectT3 = new(L77, ContainerNumber.Parse("T3"));

    [Fact]
    public void A_record_that_names_the_lot_proves_it() =>
        AssertScope(Suspect, [Unit("CA-2", "1").Used(L77, 0, 3), Unit("CA-2", "2")], ("CA-2/1", ScopeVerdict.Proven, ScopeVerdict.Proven));

    [Fact]
    public void One_of_several_lots_makes_it_possible_for_each() =>
        AssertScope(
            Suspect,
            [Unit("CA-2", "1").Used(L77, 0, 3, isOneOf: true).Used(Some.Lot("ADH-1", "L78"), 0, 3, isOneOf: true)],
            ("CA-2/1", ScopeVerdict.Possible, ScopeVerdict.Possible));

    [Theory]
    [InlineData("ADH-1", 10, 13, "ST-1", true)]
    [InlineData("ADH-2", 10, 13, "ST-1", false)]
    [InlineData("ADH-1", 97, 99, "ST-1", true)]
    [InlineData("ADH-1", 100, 103, "ST-1", true)]
    [InlineData("ADH-1", 101, 103, "ST-1", false)]
    [InlineData("ADH-1", -3, -1, "ST-1", false)]
    [InlineData("ADH-1", -3, 0, "ST-1", true)]
    [InlineData("ADH-1", 10, 13, "ST-2", false)]
    [InlineData("ADH-1", 10, 13, null, true)]
    public void A_lot_may_fill_a_gap_where_its_item_is_accepted_and_it_was_there_then(
        string item, int from, int to, string? station, bool isMember)
    {
        // L77 was at ST-1 from minute 0 and empty at minute 100, both by exact clocks.
        var lot = LotOf(
            (0, new LotReceived(L77, null, null, null, IsReleased: false, [StationCode.Parse("ST-1")]) { OccurredAt = default }),
            (100, new LotEmptied(L77) { OccurredAt = default }));
        var unit = Unit("CA-2", "1").Missing(GapKind.Lot, from, to, station, item);

        (string, ScopeVerdict, ScopeVerdict?)[] expected = isMember ? [("CA-2/1", ScopeVerdict.Possible, ScopeVerdict.Possible)] : [];
        AssertScope(Suspect, lot, [unit], expected);
    }

    [Fact]
    public void An_approved_alternative_fills_the_gap_too() =>
        AssertScope(Suspect, [Unit("CA-2", "1").Missing(GapKind.Lot, 0, 3, null, "ADH-9", "ADH-1")], ("CA-2/1", ScopeVerdict.Possible, ScopeVerdict.Possible));

    [Theory]
    [InlineData(10, false)]
    [InlineData(11, true)]
    public void What_may_have_been_used_was_used_only_once_it_was_there(int takenOutAt, bool isMember)
    {
        var lot = LotOf(
            (10, new LotReceived(L77, null, null, null, IsReleased: true, []) { OccurredAt = default }),
            (10, new ContainerOpened(L77, SuspectT3.Container, []) { OccurredAt = default }));
        var around = Unit("FP-2", "1").Holds("CA-2", "1", 5, takenOutAt);
        (string, ScopeVerdict, ScopeVerdict?)[] expected = [("CA-2/1", ScopeVerdict.Possible, ScopeVerdict.Possible), .. isMember ? [("FP-2/1", ScopeVerdict.Possible, (ScopeVerdict?)null)] : Array.Empty<(string, ScopeVerdict, ScopeVerdict?)>()];

        AssertScope(Suspect, lot, [Unit("CA-2", "1").Missing(GapKind.Lot, 5, 15, null, "ADH-1"), around], expected);
        AssertScope(SuspectT3, lot, [Unit("CA-2", "1").Used(L77, 5, 15), around], expected);
    }

    [Theory]
    [InlineData("MIX", 10, 13, "ST-1", true)]
    [InlineData("MIX", 40, 43, "ST-1", false)]
    [InlineData("MIX", 10, 13, "ST-2", false)]
    [InlineData("ADH-9", 10, 13, "ST-1", false)]
    [InlineData("ADH-1", 2, 3, "ST-1", true)]
    [InlineData("ADH-1", 10, 13, "ST-1", false)]
    public async Task A_missing_lot_of_a_mix_may_be_one_with_the_suspect_in_it_and_a_missing_part_is_no_mix(string item, int from, int to, string station, bool isMember)
    {
        // All of L77 went into a mix at minute 5, which was thrown away at minute 30.
        var mix = new LotKey(ItemNumber.Parse("MIX"), LotNumber.Parse("M1"));
        var lot = LotOf(
            (0, new LotReceived(L77, null, null, null, IsReleased: true, []) { OccurredAt = default }),
            (5, new LotEmptied(L77) { OccurredAt = default }));
        var mixed = Lot.Of(mix, [
            new(Some.Id(71), new LotMixed(mix, [new(L77, null, null), new(Some.Lot("HARD", "H1"), null, null)], [StationCode.Parse("ST-1")]) { OccurredAt = Some.At(5) }, Some.At(5)),
            new(Some.Id(72), new LotEmptied(mix) { OccurredAt = Some.At(30) }, Some.At(30))]);
        var carriers = LotCarrier.Of(Suspect, new Dictionary<LotKey, Lot> { [mix] = mixed });
        var unit = Unit("CA-2", "1").Missing(GapKind.Lot, from, to, station, item);

        var found = await ScopeWalk.RunAsync(Suspect, LotPresence.Of(Suspect, lot), carriers, new JudgementScopeSource(Judged([unit])), default);

        Assert.Equal(isMember ? ["CA-2/1 Possible"] : Array.Empty<string>(), found.Members.Select(m => $"{m.Unit} {m.Verdict}"));
    }

    [Fact]
    public void A_container_asked_for_where_only_the_lot_was_recorded_is_possible_and_another_one_is_not() =>
        AssertScope(
            SuspectT3,
            [
                Unit("CA-2", "1").Used(L77, 0, 3, container: "T3"),
                Unit("CA-2", "2").Used(L77, 0, 3),
                Unit("CA-2", "3").Used(L77, 0, 3, container: "T4"),
            ],
            ("CA-2/1", ScopeVerdict.Proven, ScopeVerdict.Proven),
            ("CA-2/2", ScopeVerdict.Possible, ScopeVerdict.Possible));

    [Fact]
    public void A_use_reaches_every_unit_above_at_any_depth() =>
        AssertScope(
            Suspect,
            [Unit("CA-2", "1").Used(L77, 0, 3), Unit("HD-2", "1").Holds("CA-2", "1", 10), Unit("FP-2", "1").Holds("HD-2", "1", 20), Unit("FP-2", "2")],
            ("CA-2/1", ScopeVerdict.Proven, ScopeVerdict.Proven),
            ("FP-2/1", ScopeVerdict.Proven, ScopeVerdict.Proven),
            ("HD-2/1", ScopeVerdict.Proven, ScopeVerdict.Proven));

    [Fact]
    public void A_component_removed_leaves_its_unit_exposed_then_and_clear_now()
    {
        var scope = Walk(Suspect, Present, [Unit("CA-2", "1").Used(L77, 0, 3), Unit("FP-2", "1").Holds("CA-2", "1", 10, 30)]);

        var member = scope.Members.Single(m => m.Unit == "FP-2/1");
        Assert.Equal((ScopeVerdict.Proven, null, Some.At(10), Some.At(30)), (member.Verdict, member.Now, member.From, member.To));
    }

    [Fact]
    public void A_component_moved_takes_its_history_along() =>
        AssertScope(
            Suspect,
            [Unit("CA-2", "1").Used(L77, 0, 3), Unit("FP-2", "1").Holds("CA-2", "1", 10, 30), Unit("FP-2", "2").Holds("CA-2", "1", 40)],
            ("CA-2/1", ScopeVerdict.Proven, ScopeVerdict.Proven),
            ("FP-2/1", ScopeVerdict.Proven, null),
            ("FP-2/2", ScopeVerdict.Proven, ScopeVerdict.Proven));

    [Theory]
    [InlineData(20, 29, ScopeVerdict.Proven)]
    [InlineData(20, 30, ScopeVerdict.Possible)]
    [InlineData(29, 40, ScopeVerdict.Possible)]
    [InlineData(30, 40, null)]
    public void A_use_after_the_removal_does_not_reach_the_former_parent_and_one_about_then_may(int from, int to, ScopeVerdict? verdict)
    {
        var scope = Walk(Suspect, Present, [Unit("CA-2", "1").Used(L77, from, to), Unit("FP-2", "1").Holds("CA-2", "1", 10, 30)]);

        Assert.Equal(verdict, scope.Members.Where(m => m.Unit == "FP-2/1").Select(m => (ScopeVerdict?)m.Verdict).SingleOrDefault());
    }

    [Fact]
    public void A_bought_unit_is_of_its_lot_from_before_it_was_opened_here()
    {
        var lot = Some.Lot("BRG", "B5");
        var scope = Walk(new SuspectLot(lot), LotPresence.Of(new SuspectLot(lot), null), [Unit("BRG", "1").IsOf(lot, 50), Unit("FP-2", "1").Holds("BRG", "1", 10, 20)]);

        Assert.Equal(["BRG/1", "FP-2/1"], scope.Members.Select(m => m.Unit), StringComparer.Ordinal);
        Assert.Null(scope.Members[0].From);
    }

    [Fact]
    public void A_missing_serial_is_possible_for_a_reached_unit_that_is_not_known_to_be_elsewhere_and_only_one_candidate_proves_nothing() =>
        AssertScope(
            Suspect,
            [Unit("CA-2", "1").Used(L77, 0, 3), Unit("FP-2", "1").Missing(GapKind.Serial, 20, 25, null, "CA-2"), Unit("FP-2", "2").Missing(GapKind.Serial, 20, 25, null, "DR-2")],
            ("CA-2/1", ScopeVerdict.Proven, ScopeVerdict.Proven),
            ("FP-2/1", ScopeVerdict.Possible, ScopeVerdict.Possible));

    [Theory]
    [InlineData(0, 20, 26, false)]
    [InlineData(0, 20, 25, true)]
    [InlineData(0, 21, 26, true)]
    [InlineData(25, 90, 91, true)]
    [InlineData(26, 90, 91, false)]
    public void A_unit_that_is_installed_elsewhere_or_not_yet_opened_all_that_time_fills_no_gap(int opened, int from, int to, bool isMember)
    {
        var component = Unit("CA-2", "1", opened).Used(L77, opened, opened);
        var scope = Walk(
            Suspect, Present, [component, Unit("FP-2", "1").Missing(GapKind.Serial, 20, 25, null, "CA-2"), Unit("FP-2", "2").Holds("CA-2", "1", from, to)]);

        Assert.Equal(isMember, scope.Members.Any(m => m.Unit == "FP-2/1"));
    }

    [Theory]
    [InlineData(20, true)]
    [InlineData(19, false)]
    public void Of_two_times_elsewhere_the_one_that_surely_began_first_counts_whatever_a_doubtful_clock_told(int sure, bool isMember)
    {
        // Put in at 18, or as late as 30 by that clock; and at another unit surely from 19 or 20 on.
        var elsewhere = Unit("FP-2", "2").Holds("CA-2", "1", 18, uncertainty: 12);
        var scope = Walk(
            Suspect, Present, [Unit("CA-2", "1").Used(L77, 19, 19), Unit("FP-2", "1").Missing(GapKind.Serial, 15, 19, null, "CA-2"), elsewhere, Unit("FP-2", "3").Holds("CA-2", "1", sure, 22)]);

        Assert.Equal(isMember, scope.Members.Any(m => m.Unit == "FP-2/1"));
    }

    [Theory]
    [InlineData(Place.Scrapped, 20, false)]
    [InlineData(Place.Shipped, 20, false)]
    [InlineData(Place.Scrapped, 21, true)]
    [InlineData(Place.Returned, 10, true)]
    [InlineData(Place.OnHold, 10, true)]
    public void A_unit_that_was_scrapped_or_shipped_before_fills_no_gap(Place place, int since, bool isMember)
    {
        var component = Unit("CA-2", "1").Used(L77, 0, 3).IsAt(place, since);
        var scope = Walk(Suspect, Present, [component, Unit("FP-2", "1").Missing(GapKind.Serial, 20, 25, null, "CA-2")]);

        Assert.Equal(isMember, scope.Members.Any(m => m.Unit == "FP-2/1"));
    }

    [Fact]
    public void What_could_be_in_a_gap_leaves_it_when_it_is_known_elsewhere()
    {
        var scope = Walk(
            Suspect,
            Present,
            [Unit("CA-2", "1").Used(L77, 0, 3), Unit("FP-2", "1").Missing(GapKind.Serial, 20, 25, null, "CA-2"), Unit("FP-2", "2").Holds("CA-2", "1", 60)]);

        var member = scope.Members.Single(m => m.Unit == "FP-2/1");
        Assert.Equal((ScopeVerdict.Possible, null, Some.At(20), Some.At(60)), (member.Verdict, member.Now, member.From, member.To));
    }

    [Fact]
    public void Proven_by_one_way_beats_possible_by_another() =>
        AssertScope(
            Suspect,
            [Unit("FP-2", "1").Missing(GapKind.Lot, 0, 3, null, "ADH-1").Used(L77, 50, 53)],
            ("FP-2/1", ScopeVerdict.Proven, ScopeVerdict.Proven));

    [Fact]
    public async Task Only_a_record_that_names_another_lot_clears_and_a_missing_one_never()
    {
        var other = Some.Lot("ADH-1", "L78");
        var records = Judged([Unit("CA-2", "1").Used(other, 0, 3), Unit("CA-2", "2").Missing(GapKind.Lot, 500, 501, null, "ADH-1"), Unit("CA-2", "3"), Unit("CA-2", "4").Used(L77, 0, 3).Used(other, 0, 3)]);
        var source = new JudgementScopeSource(records);
        var scope = await ScopeWalk.RunAsync(Suspect, LotPresence.Of(Suspect, Emptied(100)), source, default);
        string[] members = [.. scope.Members.Select(m => m.Unit)];

        Assert.Equal(["CA-2/4"], members, StringComparer.Ordinal);
        Assert.Equal(1, await source.CountClearedAsync([scope.Clearing], members, default));
        Assert.Equal("CA-2/1", Assert.Single(await source.ClearedAsync([scope.Clearing], members, null, 10, default)).Unit);
    }

    [Fact]
    public void Records_that_run_in_a_circle_end_the_walk() =>
        AssertScope(
            Suspect,
            [Unit("CA-2", "1").Used(L77, 0, 3).Holds("CA-2", "2", 10), Unit("CA-2", "2").Holds("CA-2", "1", 10)],
            ("CA-2/1", ScopeVerdict.Proven, ScopeVerdict.Proven),
            ("CA-2/2", ScopeVerdict.Proven, ScopeVerdict.Proven));

    [Fact]
    public async Task The_reason_says_what_is_missing_and_the_path_leads_from_the_unit_to_the_lot()
    {
        var source = new JudgementScopeSource(Judged(
            [Unit("CA-2", "1").Used(L77, 0, 3), Unit("HD-2", "1").Missing(GapKind.Serial, 20, 25, null, "CA-2"), Unit("FP-2", "1").Holds("HD-2", "1", 40)]));
        var scope = await ScopeWalk.RunAsync(Suspect, Present, source, default);
        var member = scope.Members.Single(m => m.Unit == "FP-2/1");
        var path = ScopeWords.Path(Suspect, member.Best, await source.EvidenceAsync([.. ScopeWords.Keys(member.Best)], default));

        Assert.Equal(["FP-2/1", "HD-2/1", "CA-2/1"], path.Select(h => h.Unit), StringComparer.Ordinal);
        Assert.Equal(
            "The record of step BOND on CA-2/1 names lot ADH-1/L77. "
            + "No serial is recorded for PLACE at step MARRY of HD-2/1; a reached unit such as CA-2/1 could have been put in and is not known to have been elsewhere. "
            + "HD-2/1 was put into FP-2/1 at position PLACE on 2026-03-02 12:40:00Z.",
            ScopeWords.Reason(member, path));
    }

    [Theory]
    [InlineData(29, null)]
    [InlineData(30, ScopeVerdict.Possible)]
    [InlineData(90, ScopeVerdict.Possible)]
    public void What_names_no_lot_of_its_own_may_be_of_one_that_was_there_when_it_was_opened_and_takes_it_wherever_it_goes(int opened, ScopeVerdict? verdict)
    {
        var lot = LotOf((30, new LotReceived(L77, null, null, null, true, [Some.Station]) { OccurredAt = default }), (50, new LotEmptied(L77) { OccurredAt = default }));
        UnitStory[] units = [Unit("ADH-1", "7", opened).NamesNoLot(opened), Unit("CA-2", "1").Holds("ADH-1", "7", 95), Unit("CA-2", "2").Holds("ADH-1", "7", 92, 94)];

        foreach (var factor in new[] { Suspect, Suspect with { Filter = UseFilter.None with { Step = Some.Step("BOND"), From = Some.At(200) } } })
        {
            var scope = Walk(factor, LotPresence.Of(factor, lot), units);
            Assert.Equal(
                verdict is { } v ? [("ADH-1/7", v, v), ("CA-2/1", v, v), ("CA-2/2", v, null)] : Array.Empty<(string, ScopeVerdict, ScopeVerdict?)>(),
                scope.Members.Select(m => (m.Unit, m.Verdict, m.Now)));
        }

        // A bag that nobody recorded as opened before it was opened may have held it all the same.
        var container = new SuspectContainer(L77, ContainerNumber.Parse("T1"));
        Assert.Equal(3, Walk(container, LotPresence.Of(container, lot), units).Members.Length);
    }

    [Fact]
    public async Task A_lot_of_its_own_that_is_missing_is_told_in_words()
    {
        var source = new JudgementScopeSource(Judged([Unit("ADH-1", "7", 40).NamesNoLot(40)]));
        var member = Assert.Single((await ScopeWalk.RunAsync(Suspect, Present, source, default)).Members);
        var path = ScopeWords.Path(Suspect, member.Best, await source.EvidenceAsync([.. ScopeWords.Keys(member.Best)], default));
        Assert.Equal("No record names the lot that ADH-1/7 itself came in; it could have been lot ADH-1/L77.", ScopeWords.Reason(member, path));

        source = new(Judged([Unit("CA-2", "1").HoldsUnopened("ADH-1", 40)]));
        member = Assert.Single((await ScopeWalk.RunAsync(Suspect, Present, source, default)).Members);
        path = ScopeWords.Path(Suspect, member.Best, await source.EvidenceAsync([.. ScopeWords.Keys(member.Best)], default));
        Assert.Equal(Some.At(40), member.From);
        Assert.Equal(
            "Nothing is recorded of the component that was put into CA-2/1 at position PLACE, so the lot that it came in is not known; it could have been lot ADH-1/L77.",
            ScopeWords.Reason(member, path));
    }

    private static LotPresence Present => LotPresence.Of(Suspect, LotOf((0, new LotReceived(L77, null, null, null, true, []) { OccurredAt = default })));

    private static Lot Emptied(int minute) => LotOf(
        (0, new LotReceived(L77, null, null, null, true, []) { OccurredAt = default }), (minute, new LotEmptied(L77) { OccurredAt = default }));

    private static Lot LotOf(params (int Minute, Fact Fact)[] facts) => Lot.Of(
        L77,
        [.. facts.Select((f, i) => new RecordedFact(Some.Id(i + 1), f.Fact with { OccurredAt = Some.At(f.Minute) }, Some.At(f.Minute)))]);

    private static void AssertScope(SuspectFactor factor, UnitStory[] units, params (string, ScopeVerdict, ScopeVerdict?)[] expected) =>
        AssertScope(factor, LotOf((0, new LotReceived(L77, null, null, null, true, []) { OccurredAt = default })), units, expected);

    private static void AssertScope(SuspectFactor factor, Lot lot, UnitStory[] units, (string, ScopeVerdict, ScopeVerdict?)[] expected) =>
        Assert.Equal(expected, Walk(factor, LotPresence.Of(factor, lot), units).Members.Select(m => (m.Unit, m.Verdict, m.Now)));

    private static LotScopeResult Walk(SuspectFactor factor, LotPresence presence, UnitStory[] units) =>
        ScopeWalk.RunAsync(factor, presence, new JudgementScopeSource(Judged(units)), default).AsTask().GetAwaiter().GetResult();

    private static ImmutableArray<UnitJudgement> Judged(UnitStory[] units) => [.. units.Select(u => u.Judgement)];

    private static UnitStory Unit(string item, string serial, int opened = 0) => new(Some.Unit(item, serial), opened);

    /// <summary>The judgement of one unit, row by row.</summary>
    private sealed class UnitStory(UnitKey key, int opened)
    {
        public UnitJudgement Judgement { get; private set; } = new(
            key,
            new(null, [], null, Some.At(opened), null, Place.InProcess, null, Some.At(opened), null, null, null, false, false),
            [],
            [],
            [],
            [],
            [],
            []);

        public UnitStory Used(LotKey lot, int from, int to, string? container = null, bool isOneOf = false) => Add(j => j with
        {
            Usages = j.Usages.Add(new(
                Some.Step("BOND"), Some.Id(1), Some.Code("GLUE"), lot, container is null ? null : ContainerNumber.Parse(container), isOneOf, Some.At(from), Some.At(to), Some.Station)),
        });

        public UnitStory IsOf(LotKey lot, int at) => Add(j => j with
        {
            Usages = j.Usages.Add(new(null, Some.Id(1), null, lot, null, false, Some.At(at), Some.At(at), null)),
        });

        public UnitStory Missing(GapKind kind, int from, int to, string? station, params string[] items) => Add(j => j with
        {
            Gaps = j.Gaps.Add(new(
                kind, GapReason.NotRecorded, Some.Step("MARRY"), Some.Id(2), Some.Code("PLACE"), [.. items.Select(Some.Item)], null,
                Some.At(from), Some.At(to), station is null ? null : StationCode.Parse(station))),
        });

        public UnitStory NamesNoLot(int opened) => Add(j => j with
        {
            Gaps = j.Gaps.Add(new(GapKind.OwnLot, GapReason.NotRecorded, null, Some.Id(1), null, [j.Unit.Item], null, DateTimeOffset.MinValue, Some.At(opened), null)),
        });

        public UnitStory HoldsUnopened(string item, int at) => Add(j => j with
        {
            Gaps = j.Gaps.Add(new(GapKind.OwnLot, GapReason.NotRecorded, null, Some.Id(1), Some.Code("PLACE"), [Some.Item(item)], null, Some.At(at), Some.At(at), null)),
        });

        public UnitStory Holds(string item, string serial, int from, int? to = null, int uncertainty = 0) => Add(j => j with
        {
            Installations = j.Installations.Add(new(
                j.Unit, Some.Code("PLACE"), Some.Unit(item, serial), Some.Step("MARRY"), Some.Id(3), Some.At(from), to is { } end ? Some.At(end) : null)
            {
                Uncertainty = TimeSpan.FromMinutes(uncertainty),
            }),
        });

        public UnitStory IsAt(Place place, int since) => Add(j => j with { Status = j.Status with { Place = place, Since = Some.At(since) } });

        private UnitStory Add(Func<UnitJudgement, UnitJudgement> change)
        {
            Judgement = change(Judgement);
            return this;
        }
    }
}
