using CsCheck;
using Traceability.Domain.Cure;
using Traceability.Domain.Facts;
using Traceability.Domain.Items;
using Traceability.Domain.Judging;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Judging;

/// <summary>A lamp is bonded with a mix of resin and hardener. All figures are invented: 40 min of pot life at 15 °C, 20 min at 25 °C.</summary>
public sealed class MixTests
{
    private static readonly ClockReading Off = new(TimeSpan.Zero, TimeSpan.FromMinutes(1), Doubtful: false);

    private static UnitStory Given(bool byTemperature = false, double potLife = 30, decimal resin = 100, decimal hardener = 50, ClockReading? clock = null, string? place = null) => new UnitStory(Some.Unit("LAMP", "1"))
        .Routing(new RoutingBuilder("LAMP").Step("BOND", s => s.Material("GLUE", "MIX")))
        .Item("RESIN").Item("HARD").Lot("RESIN", "R1").Lot("HARD", "H1", Some.At(500))
        .Know(Defined(byTemperature, potLife, place))
        .Know(Mixed("M1", 0, resin, hardener) with { Clock = clock ?? Some.RightClock })
        .Open();

    private static ItemDefined Defined(bool byTemperature, double? potLife, string? place = null) => new(Some.Item("MIX"), ItemKind.Consumable, "Mix", [], null)
    {
        OccurredAt = Some.At(-9_000),
        Mix = new([new(Some.Item("RESIN"), Some.Quantity(100, "g")), new(Some.Item("HARD"), Some.Quantity(50, "g"))], 0.05m),
        PotLife = potLife is { } life ? TimeSpan.FromMinutes(life) : null,
        PotLifeByTemperature = byTemperature ? Table((15, 40), (25, 20)) with { Place = place is null ? null : StationCode.Parse(place) } : null,
    };

    private static LifeTable Table(params (decimal Celsius, double Minutes)[] rows) =>
        new([.. rows.Select(r => new LifeRow(new(r.Celsius, "Cel"), TimeSpan.FromMinutes(r.Minutes)))], TimeSpan.FromMinutes(30), null);

    private static LotMixed Mixed(string lot, double at, decimal? resin = 100, decimal? hardener = 50, string resinLot = "R1", string hardenerLot = "H1") => new(
        Some.Lot("MIX", lot),
        [Part("RESIN", resinLot, resin), Part("HARD", hardenerLot, hardener)],
        [])
    {
        OccurredAt = Some.At(at), Station = Some.Station, Clock = Some.RightClock,
    };

    private static LotSource Part(string item, string lot, decimal? grams) => new(Some.Lot(item, lot), grams is { } g ? Some.Quantity(g, "g") : null, null);

    private static UnitStory Used(UnitStory story, double at, string lot = "M1", ClockReading? clock = null) =>
        story.Done("BOND", at, s => s.Used("MIX", lot).Clock(clock ?? Some.RightClock));

    private static (double At, decimal Celsius)[] Every10(decimal celsius, int until = 100) => [.. Enumerable.Range(0, (until / 10) + 1).Select(i => (10.0 * i, celsius))];

    [Theory]
    [InlineData(0, null)]
    [InlineData(30, null)]
    [InlineData(30.01, "pot-life-exceeded GLUE")]
    public void By_the_clock_a_mix_may_be_used_within_its_pot_life(double usedAt, string? finding) =>
        Used(Given(), usedAt).ShouldFind(finding is null ? [] : [finding]);

    [Fact]
    public void A_use_before_the_mixing_is_not_taken_as_fresh() => Used(Given(), -0.01).ShouldFind("lot-not-released GLUE", "pot-life-undetermined GLUE");

    [Theory]
    [InlineData(28.99, null)]
    [InlineData(29.01, "pot-life-undetermined GLUE")]
    [InlineData(30.99, "pot-life-undetermined GLUE")]
    [InlineData(31.01, "pot-life-exceeded GLUE")]
    public void The_uncertainty_of_the_clocks_leaves_it_open(double usedAt, string? finding) =>
        Used(Given(clock: Off), usedAt).ShouldFind(finding is null ? [] : [finding]);

    // Closed form: at a constant temperature the life is used up in the time of the row.
    [Theory]
    [InlineData(15, 40, null)]
    [InlineData(15, 40.01, "pot-life-exceeded GLUE")]
    [InlineData(25, 20, null)]
    [InlineData(25, 20.01, "pot-life-exceeded GLUE")]
    [InlineData(5, 40, null)]
    [InlineData(5, 40.01, "pot-life-undetermined GLUE")]
    [InlineData(26, 10, "pot-life-undetermined GLUE")]
    [InlineData(26, 20.01, "pot-life-exceeded GLUE")]
    public void By_temperature_a_constant_one_gives_the_time_of_its_row_and_nothing_is_extrapolated(double celsius, double usedAt, string? finding) =>
        Used(Given(byTemperature: true).Read("ST-1", Every10((decimal)celsius)), usedAt).ShouldFind(finding is null ? [] : [finding]);

    // Closed form of a step from 25 to 15 °C within a thousandth of a minute: 10/20 + (t - 10)/40 = 1 at t = 30.
    [Theory]
    [InlineData(29.9, null)]
    [InlineData(30.1, "pot-life-exceeded GLUE")]
    public void After_a_step_of_the_temperature_the_rest_of_the_life_lasts_as_the_new_one_says(double usedAt, string? finding) =>
        Used(Given(byTemperature: true).Read("ST-1", (0, 25), (10, 25), (10.001, 15), (35, 15), (60, 15)), usedAt).ShouldFind(finding is null ? [] : [finding]);

    // Arrhenius between the rows, in closed form and independent of the curve: ln t is linear in 1/T.
    [Fact]
    public void Between_two_rows_the_logarithm_of_the_time_is_linear_in_the_inverse_of_the_temperature() => Gen.Int[1_500, 2_500].Sample(
        hundredths =>
        {
            var celsius = hundredths / 100.0;
            double Inverse(double c) => 1 / (c + 273.15);
            var share = (Inverse(celsius) - Inverse(15)) / (Inverse(25) - Inverse(15));
            var minutes = Math.Exp(Math.Log(40) + (share * (Math.Log(20) - Math.Log(40))));
            Used(Given(byTemperature: true).Read("ST-1", Every10((decimal)celsius)), minutes - 0.001).ShouldFind();
            Used(Given(byTemperature: true).Read("ST-1", Every10((decimal)celsius)), minutes + 0.001).ShouldFind("pot-life-exceeded GLUE");
        },
        iter: 100);

    [Fact]
    public void Without_readings_the_fixed_time_holds_and_says_so()
    {
        Used(Given(byTemperature: true), 30).ShouldFind();
        var finding = Used(Given(byTemperature: true), 31).ShouldFind("pot-life-exceeded GLUE").Findings[0];
        Assert.Equal("no temperature is recorded at ST-1", finding.Evidence["life-fallback"]);
        Assert.Equal("Lot M1 of MIX was used 31 min after it was mixed, beyond its pot life of 30 min. The fixed time is taken, since no temperature is recorded at ST-1.", finding.Message);
    }

    [Fact]
    public void Where_readings_are_missing_it_is_doubtful()
    {
        // 5 min at 15 °C, nothing for 35 min, which at 25 °C would be the whole life; surely used up is an eighth and a quarter.
        var finding = Used(Given(byTemperature: true).Read("ST-1", (0, 15), (5, 15), (40, 15), (50, 15)), 50).ShouldFind("pot-life-undetermined GLUE").Findings[0];
        Assert.Equal(("0.375", "2.125", "PT35M"), (finding.Evidence["life-used"], finding.Evidence["life-used-at-most"], finding.Evidence["life-not-covered"]));
        Assert.False(finding.Policy.CountsAsDefect);
    }

    [Fact]
    public void The_readings_of_the_place_that_the_table_names_count()
    {
        Used(Given(byTemperature: true, place: "FRIDGE").Read("ST-1", Every10(25)).Read("FRIDGE", Every10(15)), 39).ShouldFind();
        Used(Given(byTemperature: true).Read("ST-1", Every10(25)).Read("FRIDGE", Every10(15)), 39).ShouldFind("pot-life-exceeded GLUE");
    }

    [Fact]
    public void Of_several_mixes_one_within_its_life_leaves_it_open_which_was_used()
    {
        UnitStory Story(double second) => Given().Know(Mixed("M2", second)).Done("BOND", 40, s => s.UsedOneOf("MIX", ["M1", "M2"]));
        Story(20).ShouldFind("lot-ambiguous GLUE");
        Story(5).ShouldFind("lot-ambiguous GLUE", "pot-life-exceeded GLUE");
    }

    [Fact]
    public void What_was_split_or_merged_keeps_the_time_of_its_mixing()
    {
        UnitStory Story() => Given().Know(Mixed("M2", 20))
            .Know(new LotSplit(Some.Lot("MIX", "S"), new(Some.Lot("MIX", "M1"), null, null), []) { OccurredAt = Some.At(25) })
            .Know(new LotMerged(Some.Lot("MIX", "BOTH"), [new(Some.Lot("MIX", "M1"), null, null), new(Some.Lot("MIX", "M2"), null, null)], []) { OccurredAt = Some.At(25) });
        Used(Story(), 31, "S").ShouldFind("pot-life-exceeded GLUE");
        Used(Story(), 31, "BOTH").ShouldFind("pot-life-exceeded GLUE");
        Used(Story(), 29, "BOTH").ShouldFind();
    }

    [Fact]
    public void A_lot_whose_mixing_is_not_recorded_is_not_taken_as_fresh() =>
        Used(Given().Lot("MIX", "M9"), 1, "M9").ShouldFind("pot-life-undetermined GLUE");

    [Theory]
    [InlineData(100, 50, null)]
    [InlineData(200, 105, null)]
    [InlineData(200, 95, null)]
    [InlineData(200, 105.1, "mix-ratio-out-of-limits GLUE")]
    [InlineData(200, 94.9, "mix-ratio-out-of-limits GLUE")]
    [InlineData(0, 0, "mix-ratio-out-of-limits GLUE")]
    public void The_ratio_is_within_its_tolerance(double resin, double hardener, string? finding) =>
        Used(Given(resin: (decimal)resin, hardener: (decimal)hardener), 1).ShouldFind(finding is null ? [] : [finding]);

    [Fact]
    public void A_ratio_that_nobody_recorded_is_flagged_and_a_wrong_part_is_a_defect()
    {
        Used(Given().Know(Mixed("M2", 0, hardener: null)), 1, "M2").ShouldFind("mix-ratio-not-recorded GLUE");
        var wrong = new LotMixed(Some.Lot("MIX", "M3"), [Part("RESIN", "R1", 100), Part("MIX", "M1", 50)], []) { OccurredAt = Some.At(0), Station = Some.Station };
        var finding = Used(Given().Know(wrong), 1, "M3").ShouldFind("mix-part-wrong GLUE").Findings[0];
        Assert.Contains("the mix takes no MIX.", finding.Message, StringComparison.Ordinal);
        Assert.Contains("No HARD went in.", finding.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void A_mix_expires_and_is_held_with_its_parts()
    {
        Used(Given(potLife: 10_000), 501).ShouldFind("lot-expired GLUE");
        Used(Given().Know(new LotQuarantined(Some.Lot("RESIN", "R1"), "doubt") { OccurredAt = Some.At(1) }), 2).ShouldFind("lot-not-released GLUE");
        var asks = new ItemDefined(Some.Item("RESIN"), ItemKind.Consumable, "Resin", [], null) { OccurredAt = Some.At(-8_999), NeedsInspection = true };
        Used(Given().Know(asks), 2).ShouldFind("lot-not-inspected GLUE");
        var good = new LotInspected(Some.Lot("RESIN", "R1"), Accepted: true, null, [], null, null) { OccurredAt = Some.At(-10) };
        Used(Given().Know(asks).Know(good), 2).ShouldFind();
    }

    [Theory]
    [InlineData(15, 40, null)]
    [InlineData(15, 40.01, "container-past-life GLUE")]
    [InlineData(5, 41, "container-life-undetermined GLUE")]
    public void An_opened_container_lasts_as_its_table_says(double celsius, double usedAt, string? finding) => new UnitStory(Some.Unit("LAMP", "1"))
        .Routing(new RoutingBuilder("LAMP").Step("BOND", s => s.Material("GLUE", "ADH")))
        .Know(new ItemDefined(Some.Item("ADH"), ItemKind.Consumable, "Adhesive", [], TimeSpan.FromMinutes(30)) { OccurredAt = Some.At(-9_000), OpenedLifeByTemperature = Table((15, 40), (25, 20)) })
        .Lot("ADH", "L1")
        .Know(new ContainerOpened(Some.Lot("ADH", "L1"), ContainerNumber.Parse("T1"), []) { OccurredAt = Some.At(0), Station = Some.Station, Clock = Some.RightClock })
        .Open().Read("ST-1", Every10((decimal)celsius)).Done("BOND", usedAt, s => s.Used("ADH", "L1", "T1"))
        .ShouldFind(finding is null ? [] : [finding]);

    [Fact]
    public void Asked_first_it_says_until_when_the_mix_may_be_used_and_what_that_assumes()
    {
        var warm = Life(Given(byTemperature: true).Read("ST-1", (0, 25), (5, 25)), 10);
        Assert.Equal(("pot life", Some.At(20)), (warm.What, warm.Until));
        Assert.Equal("If it stays at the last reading, 25 Cel at 2026-03-02T12:05:00Z (ST-1).", warm.Assumption);
        var clock = Life(Given(), 10);
        Assert.Equal((Some.At(30), null), (clock.Until, clock.Assumption));
        var hot = Life(Given(byTemperature: true).Read("ST-1", (0, 30)), 10);
        Assert.Null(hot.Until);
        Assert.Contains("hotter than its table tells", hot.Assumption, StringComparison.Ordinal);
    }

    [Fact]
    public void Asked_first_after_the_pot_life_it_says_no() =>
        Assert.Equal((ReadinessVerdict.No, "pot-life-exceeded"), (Ask(Given(), 31).Verdict, Ask(Given(), 31).Reasons[0].Kind));

    [Fact]
    public void What_is_looked_at_is_named_before()
    {
        var story = Used(Given(byTemperature: true).Read("ST-1", Every10(15)), 30);
        var names = Dependencies.Temperatures(null, story.References, story.ProductUnit, [])!;
        Assert.All(story.Judgement.CureWindows, w => Assert.Contains(StreamNames.OfTemperature(w.Place, DateOnly.FromDateTime(w.From.UtcDateTime)), names));
        Assert.NotEmpty(story.Judgement.CureWindows);
    }

    private static ReadinessAnswer Ask(UnitStory story, double at) => Readiness.Ask(
        story.ProductUnit, story.References, new(Some.Step("BOND"), Some.Station, Some.Person, [new(Some.Item("MIX"), [LotNumber.Parse("M1")], null, null, null)], [], [], Some.At(at)));

    private static MaterialLife Life(UnitStory story, double at) => Assert.Single(Ask(story, at).Lives);
}
