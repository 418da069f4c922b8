using CsCheck;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Domain.Tools;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Tools;

public sealed class SuspectWindowTests
{
    private static readonly ToolNumber Driver = ToolNumber.Parse("SD-1");
    private static readonly Code?[] Settings = [null, Some.Code("3"), Some.Code("5")];

    [Fact]
    public void A_calibration_that_found_the_tool_out_reaches_back_to_the_one_before() =>
        Assert.Equal("-100 to 50, found 50", Told("5", Calibrated(-100), Calibrated(50, foundGood: false)));

    [Fact]
    public void Without_any_calibration_before_it_reaches_back_for_ever() =>
        Assert.Equal("ever to 50, found 50", Told("5", Calibrated(50, foundGood: false)));

    [Fact]
    public void A_passed_check_ends_the_reach_of_its_own_setting_only()
    {
        Fact[] facts = [Calibrated(-100), Checked("5", 1.2m, 20), Calibrated(50, foundGood: false)];
        Assert.Equal("20 to 50, found 50", Told("5", facts));
        Assert.Equal("-100 to 50, found 50", Told("3", facts));
        Assert.Equal("-100 to 50, found 50", Told(null, facts));
        Assert.Equal("20 to 50, found 50", Told("3", Calibrated(-100), Checked(null, 1.2m, 20), Calibrated(50, foundGood: false)));
    }

    [Fact]
    public void A_failed_check_makes_its_setting_suspect_until_it_passes_or_the_tool_is_calibrated()
    {
        Fact[] facts = [Calibrated(-100), Checked("5", 1.2m, 10), Checked("5", 1.4m, 20), Checked("5", 1.35m, 30)];
        Assert.Equal("10 to open, found 20", Told("5", facts));
        Assert.Equal("-100 to open, found 20", Told(null, facts));
        Assert.Equal(string.Empty, Told("3", facts));
        Assert.Equal("10 to 40, found 20", Told("5", [.. facts, Checked("5", 1.2m, 40)]));
        Assert.Equal("-100 to open, found 20", Told(null, [.. facts, Checked("5", 1.2m, 40)]));
        Assert.Equal("10 to 40, found 20", Told("5", [.. facts, Calibrated(40, foundGood: false)]));
    }

    [Fact]
    public void A_doubtful_check_says_neither_and_one_without_limits_nothing()
    {
        Fact[] doubtful = [Calibrated(-100), Checked("5", 1.29m, 20, 0.02m), Calibrated(50, foundGood: false)];
        Assert.Equal("-100 to 50, found 50", Told("5", doubtful));
        Assert.Equal("20 to 50, found 50", Told("5", Calibrated(-100), Checked("5", 1.28m, 20, 0.02m), Calibrated(50, foundGood: false)));
        Assert.Equal(string.Empty, Told("5", Calibrated(-100), Checked("5", 1.4m, 20) with { Lower = null, Upper = null }));
    }

    [Fact]
    public void A_check_that_is_voided_or_corrected_moves_the_window()
    {
        RecordedFact[] facts = Numbered(Calibrated(-100), Checked("5", 1.2m, 20), Calibrated(50, foundGood: false));
        RecordedFact Change(Fact fact) => new(Some.Id(90), fact, Some.At(60));

        Assert.Equal("-100 to 50, found 50", Told("5", [.. facts, Change(new RecordVoided(Some.Id(2), "wrong tool", Some.Quality) { OccurredAt = Some.At(60) })]));
        Assert.Equal("30 to 50, found 50", Told("5", [.. facts, Change(new RecordCorrected(Some.Id(2), Checked("5", 1.2m, 30), "misread", Some.Quality) { OccurredAt = Some.At(60) })]));
        Assert.Equal("-100 to 50, found 20", Told("5", [.. facts, Change(new RecordCorrected(Some.Id(2), Checked("5", 1.4m, 20), "misread", Some.Quality) { OccurredAt = Some.At(60) })]));
        Assert.Equal(string.Empty, Told("5", [.. facts, Change(new RecordVoided(Some.Id(3), "wrong tool", Some.Quality) { OccurredAt = Some.At(60) })]));
    }

    // Written anew, in other words: suspect is what lies between two neighbours of which the first failed a check or the second found it out.
    [Fact]
    public void Windows_and_single_questions_agree_with_the_rule_told_over_neighbours() => Cases.Sample(
        c =>
        {
            var tool = Tool.Of(Driver, [.. c.Facts]);
            var at = Some.At(c.At / 2.0);
            foreach (var setting in Settings)
            {
                var window = SuspectWindows.At(tool, setting, at);
                Assert.Equal(Naive(tool, setting, at), window is not null);
                var all = SuspectWindows.Of(tool, setting);
                Assert.Equal(window, all.SingleOrDefault(w => w.Contains(at)));
                Assert.All(all.Zip(all.Skip(1)), pair => Assert.True(pair.First.To <= (pair.Second.From ?? DateTimeOffset.MinValue)));
            }
        },
        iter: 4_000);

    [Fact]
    public void The_order_of_arrival_changes_no_window() => Cases.SelectMany(c => Gen.Shuffle(c.Facts).Select(s => (c.Facts, Shuffled: s))).Sample(
        c => Assert.All(Settings, s => Assert.Equal(SuspectWindows.Of(Tool.Of(Driver, [.. c.Facts]), s).ToArray(), SuspectWindows.Of(Tool.Of(Driver, [.. c.Shuffled]), s).ToArray())),
        iter: 1_500);

    private static Gen<(RecordedFact[] Facts, int At)> Cases =>
        from facts in One.Array[0, 8]
        from voids in Gen.Select(Gen.Int[1, 9], Gen.Int[0, 20]).Array[0, 2]
        from at in Gen.Int[-1, 42]
        select (Numbered([.. facts, .. voids.Select(v => (Fact)new RecordVoided(Some.Id(v.Item1), "wrong", Some.Quality) { OccurredAt = Some.At(v.Item2) })]), at);

    private static Gen<Fact> One =>
        from kind in Gen.Int[0, 3]
        from at in Gen.Int[0, 20]
        from good in Gen.Bool
        from left in Gen.Bool
        from setting in Gen.Int[0, 2]
        from reading in Gen.Int[0, 4].Select(i => new[] { 1.0m, 1.2m, 1.2m, 1.295m, 1.4m }[i])
        select kind == 0
            ? (Fact)new ToolCalibrated(Driver, good, left, null, null) { OccurredAt = Some.At(at) }
            : new ToolChecked(Driver, Settings[setting], [new(1.2m, "N.m"), new(reading, "N.m")], new(1.1m, "N.m"), new(1.3m, "N.m"), new(0.01m, "N.m")) { OccurredAt = Some.At(at) };

    private static bool Naive(Tool tool, Code? setting, DateTimeOffset at)
    {
        (DateTimeOffset At, bool IsBad, bool IsCheck)[] known = [.. tool.Effective.Where(f => !f.IsVoided).Select(f => f.Fact switch
            {
                ToolCalibrated c => (f.At, !c.FoundGood, false),
                ToolChecked c when ToolCheck.Of(c) == CheckVerdict.Failed && (c.Setting is null || setting is null || c.Setting == setting) => (f.At, true, true),
                ToolChecked c when ToolCheck.Of(c) == CheckVerdict.Passed && (c.Setting is null || c.Setting == setting) => (f.At, false, true),
                _ => ((DateTimeOffset, bool, bool)?)null,
            }).OfType<(DateTimeOffset, bool, bool)>()];
        var before = known.Where(k => k.At <= at).ToArray();
        var after = known.Where(k => k.At > at).ToArray();
        return before is [.., { IsBad: true, IsCheck: true }] || after is [{ IsBad: true }, ..];
    }

    private static ToolCalibrated Calibrated(double at, bool foundGood = true) => new(Driver, foundGood, LeftGood: true, null, null) { OccurredAt = Some.At(at) };

    private static ToolChecked Checked(string? setting, decimal reading, double at, decimal? uncertainty = null) => new(
        Driver,
        setting is null ? null : Some.Code(setting),
        [new(reading, "N.m")],
        new(1.1m, "N.m"),
        new(1.3m, "N.m"),
        uncertainty is { } u ? new EnteredQuantity(u, "N.m") : null)
    {
        OccurredAt = Some.At(at),
    };

    private static RecordedFact[] Numbered(params Fact[] facts) => [.. facts.Select((f, i) => new RecordedFact(Some.Id(i + 1), f, f.OccurredAt))];

    private static string Told(string? setting, params Fact[] facts) => Told(setting, Numbered(facts));

    private static string Told(string? setting, RecordedFact[] facts) => string.Join("; ", SuspectWindows
        .Of(Tool.Of(Driver, [.. facts]), setting is null ? null : Some.Code(setting))
        .Select(w => FormattableString.Invariant($"{Minute(w.From) ?? "ever"} to {Minute(w.To) ?? "open"}, found {Minute(w.FoundAt)}")));

    private static string? Minute(DateTimeOffset? at) => at is { } time ? FormattableString.Invariant($"{(time - Some.Noon).TotalMinutes}") : null;
}
