using System.Globalization;
using Traceability.Contracts.SharedFactors;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Service.Tests.Reading;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Service.Tests.SharedFactors;

public sealed class SharedFactorAnswerTests
{
    private const string Path = "/api/shared-factors";
    private static readonly DateOnly Day = DateOnly.FromDateTime(Some.Noon.UtcDateTime);

    [Fact]
    public async Task What_is_inside_failed_units_counts_as_theirs()
    {
        await using var host = await ReadingHost.StartAsync();
        for (var i = 0; i < 30; i++)
        {
            var isBad = i < 6;
            await host.StoreAsync(
                Case(i) with { Usages = [Use(isBad ? "BAD" : $"GOOD-{i % 3}")] },
                Final(i) with { Installations = [Holds(i)], Findings = isBad ? [Judged.Finding(FindingKinds.CheckFailed, i)] : [] });
        }

        var (found, _) = await host.PostAsync<SharedFactorFound>(Path, """{"failure": {"item": "FP-2", "kind": "check-failed"}}""");

        Assert.Equal((6, 24, 24), (found!.Failed, found.Compared, found.Comparison!.Fitting));
        var first = found.Groups[0];
        Assert.Equal(new("lot", "GLUE/BAD", "GLUE"), Assert.Single(first.Factors));
        Assert.Equal((6, 6, 0, 24), (first.FailedWith, first.FailedKnown, first.ComparedWith, first.ComparedKnown));
        Assert.True(first.IsSignificant);
        Assert.Null(first.OddsRatio);
        Assert.True(first.Lower > 1);
        Assert.Null(first.Upper);
    }

    [Fact]
    public async Task A_missing_lot_or_serial_leaves_open_what_it_could_have_named()
    {
        await using var host = await ReadingHost.StartAsync();
        await host.StoreAsync(
            Case(0) with { Usages = [Use("BAD")] },
            Final(0) with { Installations = [Holds(0)] },
            Case(1) with { Gaps = [Gap(GapKind.Lot, "GLUE")] },
            Final(1) with { Installations = [Holds(1)] },
            Case(2) with { Usages = [Use("GOOD")] },
            Final(2) with { Installations = [Holds(2)] },
            Final(3) with { Gaps = [Gap(GapKind.Serial, "CA-2")] },
            Case(4) with { Usages = [Use("GOOD")] },
            Unreadable(Final(4) with { Installations = [Holds(4)] }));

        var (found, _) = await host.PostAsync<SharedFactorFound>(Path, Units(0, 1));

        var bad = Assert.Single(found!.Groups, g => g.Factors.Any(f => f.Name == "GLUE/BAD"));
        Assert.Equal((1, 1, 0, 1), (bad.FailedWith, bad.FailedKnown, bad.ComparedWith, bad.ComparedKnown));
        Assert.Equal(3, found.Compared);
        Assert.Contains(found.Remarks, r => r.StartsWith("Too few units", StringComparison.Ordinal));
    }

    [Fact]
    public async Task Where_no_unit_failed_nothing_is_searched()
    {
        await using var host = await ReadingHost.StartAsync();

        var (found, _) = await host.PostAsync<SharedFactorFound>(Path, """{"failure": {"item": "FP-2"}}""");

        Assert.Equal((0, 0, 0), (found!.Failed, found.Compared, found.Tried));
        Assert.Null(found.Comparison);
        Assert.Single(found.Remarks);
    }

    [Theory]
    [InlineData("", "")]
    [InlineData("[]", "")]
    [InlineData("{}", "/units")]
    [InlineData("""{"units": [], "errorRate": 0.05}""", "/units")]
    [InlineData("""{"units": [{"item": "FP-2", "serial": "1"}, {"item": "FP-2", "serial": "1"}]}""", "/units")]
    [InlineData("""{"units": [{"item": "FP-2", "serial": "1"}], "failure": {"item": "FP-2"}}""", "/units")]
    [InlineData("""{"failure": {"item": "FP-2", "kind": "unheard-of"}}""", "/failure/kind")]
    [InlineData("""{"failure": {"item": "FP-2", "from": "2026-03-02T00:00:00Z", "to": "2026-03-01T00:00:00Z"}}""", "/failure/to")]
    [InlineData("""{"failure": {"item": "FP-2"}, "errorRate": 0}""", "/errorRate")]
    [InlineData("""{"failure": {"item": "FP-2"}, "errorRate": "0.05"}""", "/errorRate")]
    [InlineData("""{"failure": {"item": "FP-2"}, "kinds": ["colour"]}""", "/kinds")]
    [InlineData("""{"failure": {"item": "FP-2"}, "comparedFrom": "2026-03-02T00:00:00Z", "comparedTo": "2026-03-02T00:00:00Z"}""", "/comparedTo")]
    [InlineData("""{"failure": {"item": "FP-2"}, "more": 1}""", "/more")]
    public async Task A_question_that_can_t_be_read_is_refused_with_its_place(string question, string place)
    {
        await using var host = await ReadingHost.StartAsync();

        var (_, problem) = await host.PostAsync<SharedFactorFound>(Path, question);

        Assert.Equal(400, problem!.Status);
        Assert.Contains(problem.Errors!, e => e.Pointer == place);
    }

    [Fact]
    public async Task A_unit_that_is_not_known_is_named()
    {
        await using var host = await ReadingHost.StartAsync();
        await host.StoreAsync(Final(0));

        var (_, problem) = await host.PostAsync<SharedFactorFound>(Path, Units(0, 9));

        Assert.Equal((404, "unit-unknown"), (problem!.Status, problem.Code));
        Assert.Contains(problem.Errors!, e => e.Pointer == "/units/1");
    }

    private static UnitJudgement Final(int number) => Judged.Unit(Serial(number)).Ended(Day, passed: true);

    private static UnitJudgement Case(int number) => Judged.Unit(Serial(number), item: "CA-2").Ended(Day, passed: true);

    private static UnitJudgement Unreadable(UnitJudgement unit) => unit with { Status = unit.Status with { HasUnreadable = true } };

    private static Installation Holds(int number) =>
        new(Some.Unit("FP-2", Serial(number)), Code.Parse("CASE"), Some.Unit("CA-2", Serial(number)), null, Some.Id(500 + number), Some.Noon, null);

    private static MaterialUsage Use(string lot) => new(
        StepCode.Parse("BOND"), Some.Id(1), Code.Parse("GLUE"), new(ItemNumber.Parse("GLUE"), LotNumber.Parse(lot)), null, IsOneOf: false, Some.Noon, Some.Noon, StationCode.Parse("ST-1"));

    private static TraceGap Gap(GapKind kind, string item) => new(
        kind, GapReason.NotRecorded, StepCode.Parse("BOND"), Some.Id(2), Code.Parse("GLUE"), [ItemNumber.Parse(item)], null, Some.Noon, Some.Noon, StationCode.Parse("ST-1"));

    private static string Units(params int[] numbers) =>
        $$"""{"units": [{{string.Join(", ", numbers.Select(n => $$"""{"item": "FP-2", "serial": "{{Serial(n)}}"}"""))}}]}""";

    private static string Serial(int number) => number.ToString("000", CultureInfo.InvariantCulture);
}
