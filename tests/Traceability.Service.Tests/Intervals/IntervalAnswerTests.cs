using Traceability.Contracts.Intervals;
using Traceability.Domain.Judging;
using Traceability.Service.Tests.Reading;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Service.Tests.Intervals;

public sealed class IntervalAnswerTests
{
    private static readonly DateOnly Day = new(2026, 3, 2);

    [Fact]
    public async Task Open_intervals_come_by_what_needs_attention_first()
    {
        await using var host = await StartAsync(minutes: 60);
        await host.StoreAsync(
            Judged.Unit("01", open: [Judged.Open("CURE", readyMinutes: 90)]),
            Judged.Unit("02", open: [Judged.Open("CURE", readyMinutes: 61)]),
            Judged.Unit("03", open: [Judged.Open("OPEN", overdueMinutes: 59)]),
            Judged.Unit("04", open: [Judged.Open("OPEN", overdueMinutes: 10)]),
            Judged.Unit("05", open: [Judged.Open("CURE", readyMinutes: 30)]),
            Judged.Unit("06", open: [Judged.Open("CURE", readyMinutes: 30, overdueMinutes: 90)]),
            Judged.Unit("07", open: [Judged.Open("CURE", readyMinutes: 60.02, uncertaintySeconds: 2)]),
            Judged.Unit("08", open: [Judged.Open("OPEN", overdueMinutes: 59.99, uncertaintySeconds: 2)]));

        var answer = await host.GetAsync<OpenIntervals>("/api/intervals/open");

        Assert.Equal(["04", "03", "08", "06", "05", "07", "02", "01"], answer.Intervals.Select(i => i.Unit.Serial));
        Assert.Equal(
            [IntervalState.Overdue, IntervalState.Overdue, IntervalState.Undetermined, IntervalState.Ready, IntervalState.Ready, IntervalState.Undetermined, IntervalState.NotReady, IntervalState.NotReady],
            answer.Intervals.Select(i => i.State));
        Assert.Equal(new(2, 2, 2, 2, 8), answer.Counts);
        Assert.False(answer.IsTruncated);
        Assert.Equal((Some.Noon, Some.At(10), (DateTimeOffset?)null), (answer.Intervals[0].StartedAt, answer.Intervals[0].OverdueAt, answer.Intervals[0].ReadyAt));
        Assert.Contains("\"state\":\"not-ready\"", await host.GetTextAsync("/api/intervals/open"), StringComparison.Ordinal);

        var first = await host.GetAsync<OpenIntervals>("/api/intervals/open?limit=3");
        Assert.Equal((3, true, 8), (first.Intervals.Count, first.IsTruncated, first.Counts.Total));
    }

    [Fact]
    public async Task The_same_interval_is_judged_by_the_time_of_asking()
    {
        await using var host = await StartAsync(minutes: 0);
        await host.StoreAsync(Judged.Unit("1", open: [Judged.Open("CURE", readyMinutes: 10, overdueMinutes: 20, uncertaintySeconds: 2)]));

        List<IntervalState> states = [];
        foreach (var seconds in new[] { 0.0, 597.9, 598, 601.9, 602, 1198, 1198.1, 1202, 1202.1 })
        {
            host.Clock.Now = Some.Noon.AddSeconds(seconds);
            states.Add((await host.GetAsync<OpenIntervals>("/api/intervals/open")).Intervals.Single().State);
        }

        Assert.Equal(
            [
                IntervalState.NotReady, IntervalState.NotReady, IntervalState.Undetermined, IntervalState.Undetermined, IntervalState.Ready,
                IntervalState.Ready, IntervalState.Undetermined, IntervalState.Undetermined, IntervalState.Overdue,
            ],
            states);
    }

    [Fact]
    public async Task Open_intervals_can_be_narrowed_to_an_item_and_to_the_station_that_started_them()
    {
        await using var host = await StartAsync(minutes: 5);
        await host.DefineAsync(Judged.Item("CA-2"));
        await host.DefineAsync([.. Judged.Site("MAIN", "ST-1", "Etc/UTC"), .. Judged.Site("SIDE", "ST-2", "Etc/UTC")]);
        await host.StoreAsync(
            Judged.Unit("1", [Judged.Step("BOND", Day), Judged.Step("BOND", Day, attempt: 2, station: "ST-2")], open: [Judged.Open("CURE", readyMinutes: 10)]),
            Judged.Unit("2", [Judged.Step("BOND", Day), Judged.Step("LOAD", Day, station: "ST-2")], open: [Judged.Open("CURE", readyMinutes: 10)]),
            Judged.Unit("3", open: [Judged.Open("CURE", readyMinutes: 10)], item: "CA-2"));

        Assert.Equal([("1", "ST-2"), ("2", "ST-1"), ("3", null)], (await host.GetAsync<OpenIntervals>("/api/intervals/open")).Intervals.Select(i => (i.Unit.Serial, i.Station)));
        Assert.Equal(["1"], (await host.GetAsync<OpenIntervals>("/api/intervals/open?station=ST-2")).Intervals.Select(i => i.Unit.Serial));
        Assert.Equal(["3"], (await host.GetAsync<OpenIntervals>("/api/intervals/open?item=CA-2")).Intervals.Select(i => i.Unit.Serial));
        Assert.Equal("station-unknown", (await host.GetProblemAsync("/api/intervals/open?station=ST-3")).Code);
        Assert.Equal("item-unknown", (await host.GetProblemAsync("/api/intervals/open?item=NO-1")).Code);
    }

    [Fact]
    public async Task Violations_are_those_of_the_period_and_what_is_overdue_now()
    {
        await using var host = await StartAsync(minutes: 60);
        await host.StoreAsync(
            Judged.Unit(
                "1",
                findings:
                [
                    Judged.Finding(FindingKinds.IntervalTooShort, 10, evidence: ("elapsed", "PT8M")),
                    Judged.Finding(FindingKinds.IntervalTooLong, 20),
                    Judged.Finding(FindingKinds.IntervalUndetermined, 30),
                    Judged.Finding(FindingKinds.IntervalStartNotRecorded, 40),
                    Judged.Finding(FindingKinds.ValueOutOfLimits, 35),
                ],
                open: [Judged.Open("OPEN", overdueMinutes: 30), Judged.Open("CURE", readyMinutes: 90)]),
            Judged.Unit("2", open: [Judged.Open("OPEN", overdueMinutes: 60, uncertaintySeconds: 2), Judged.Open("POT", overdueMinutes: 60)]));

        var answer = await host.GetAsync<IntervalViolations>("/api/intervals/violations");

        Assert.Equal(
            [FindingKinds.IntervalStartNotRecorded, FindingKinds.IntervalUndetermined, FindingKinds.IntervalTooLong, FindingKinds.IntervalTooShort],
            answer.Past.Select(f => f.Kind));
        Assert.Equal("PT8M", answer.Past[3].Evidence["elapsed"]);
        Assert.Equal(new(1, 1, 1, 1, 2), answer.Counts);
        Assert.Equal([("1", IntervalState.Overdue), ("2", IntervalState.Undetermined)], answer.Open.Select(o => (o.Unit.Serial, o.State)));

        // The end of a period is excluded, its begin included; what is open has no period.
        var part = await host.GetAsync<IntervalViolations>("/api/intervals/violations?from=2026-03-02T12:10:00Z&to=2026-03-02T13:20:00%2B01:00");
        Assert.Equal(new(1, 0, 0, 0, 2), part.Counts);
        var few = await host.GetAsync<IntervalViolations>("/api/intervals/violations?limit=1");
        Assert.Equal((1, true, 1L), (few.Past.Count, few.IsTruncated, few.Counts.TooShort));
    }

    [Fact]
    public async Task A_time_without_offset_or_with_a_bare_plus_is_refused_with_what_to_write()
    {
        await using var host = await StartAsync(minutes: 0);

        var problem = await host.GetProblemAsync("/api/intervals/violations?from=2026-03-02T12:10:00&to=2026-03-02T13:20:00+01:00&limit=NaN&limits=1");

        Assert.Equal(["from", "to", "limit", "limits"], problem.Errors!.Select(e => e.Pointer));
        Assert.Contains("with offset", problem.Errors![0].Detail, StringComparison.Ordinal);
        Assert.Contains("%2B", problem.Errors![1].Detail, StringComparison.Ordinal);
    }

    private static async Task<ReadingHost> StartAsync(double minutes)
    {
        var host = await ReadingHost.StartAsync(Some.At(minutes));
        await host.DefineAsync(Judged.Item());
        return host;
    }
}
