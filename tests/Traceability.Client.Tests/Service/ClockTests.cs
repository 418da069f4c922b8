using System.Globalization;
using Traceability.Acceptance.Robustness;
using Traceability.Client.Outbox;
using Traceability.Contracts.Facts;
using Traceability.Contracts.Units;
using Traceability.Testing;

namespace Traceability.Client.Tests.Service;

/// <summary>A terminal whose clock is wrong, or is set while facts wait: both times are kept, the skew is told, and no cure passes on a doubtful clock.</summary>
public sealed class ClockTests(ServiceFixture fixture) : IClassFixture<ServiceFixture>
{
    private static int next = 100;

    private ServiceHost Host => fixture.Host;

    // By the true time the lens set for so many minutes before it was tried; ten are asked for.
    public static TheoryData<double, double> Errors() => new()
    {
        { 0, 11 }, { 0, 9 }, { 30, 11 }, { 30, 9 }, { -30, 9 }, { 600, 9 }, { 600, 30 }, { -600, 9 }, { -600, 30 }, { 86_400, 9 }, { 86_400, 30 }, { -86_400, 9 }, { -86_400, 30 }, { 3_600, 9 }, { -3_600, 9 },
    };

    [Theory]
    [MemberData(nameof(Errors))]
    public async Task A_cure_never_passes_on_a_wrong_clock(double aheadSeconds, double minutes)
    {
        await DefineAsync();
        var error = TimeSpan.FromSeconds(aheadSeconds);
        await using var right = await TerminalWithOutbox.OpenAsync(Host.Address, Host.Key());
        await using var wrong = await TerminalWithOutbox.OpenAsync(Host.Address, Host.Key(), error);
        var unit = NewHead();
        var now = TimeProvider.System.GetUtcNow();
        var bonded = now.AddMinutes(-60);
        var tried = bonded.AddMinutes(minutes);

        // Bonded at a station whose clock is right, tried at one whose clock is not.
        await SendAsync(right, new UnitOpened { OccurredAt = bonded.AddMinutes(-1), Station = LampWorks.Bench, Person = "P-1", Unit = unit });
        await SendAsync(right, Step(unit, "BOND", bonded));
        var entry = await SendAsync(wrong, Step(unit, "TRY", tried + error));

        // Both times are kept: what the terminal said, and when it truly was as far as that is known.
        var stored = await right.Client.GetFactAsync(entry.FactId);
        Assert.Equal(tried + error, stored.Content.GetProperty("occurredAt").GetDateTimeOffset());
        Assert.InRange((entry.Receipt!.OccurredAt - tried).Duration(), TimeSpan.Zero, TimeSpan.FromSeconds(1.5));
        var isDoubtful = stored.Content.GetProperty("clock").GetProperty("doubtful").GetBoolean();
        Assert.Equal(Math.Abs(aheadSeconds) > 60, isDoubtful);

        var findings = (await right.Client.GetUnitAsync(unit)).Findings.Where(f => f.Step == "TRY").Select(f => f.Kind).ToList();
        Assert.Equal(isDoubtful, findings.Contains("clock-doubtful"));
        if (minutes < 10)
        {
            Assert.True(findings.Contains("interval-too-short") || findings.Contains("interval-undetermined"), string.Join(' ', findings));
        }
        else
        {
            // Long enough whichever way the clock was off, or not known: then it is no pass.
            var sure = Math.Abs(aheadSeconds) is var off && off <= 60 ? 2 : off;
            Assert.Equal(minutes * 60 <= 600 + sure, findings.Contains("interval-undetermined"));
        }
    }

    [Theory]
    [InlineData(3_600, 0)]
    [InlineData(0, 7_200)]
    [InlineData(0, -86_400)]
    [InlineData(-600, 600)]
    public async Task A_clock_that_is_set_while_facts_wait_does_not_move_them(double aheadThen, double aheadLater)
    {
        await DefineAsync();
        await using var terminal = await TerminalWithOutbox.OpenAsync(Host.Address, Host.Key(), TimeSpan.FromSeconds(aheadThen));
        var unit = NewHead();
        var truth = TimeProvider.System.GetUtcNow().AddMinutes(-5);
        var opened = await terminal.Outbox.EnqueueAsync(new UnitOpened { OccurredAt = truth.AddSeconds(aheadThen), Station = LampWorks.Bench, Person = "P-1", Unit = unit });

        terminal.Clock.Ahead = TimeSpan.FromSeconds(aheadLater);
        var late = await terminal.Outbox.EnqueueAsync(Step(unit, "BOND", truth.AddSeconds(60 + aheadLater)));
        terminal.Run(100);
        await terminal.DrainAsync();

        foreach (var (id, at, error) in new[] { (opened.FactId, truth, aheadThen), (late.FactId, truth.AddSeconds(60), aheadLater) })
        {
            var entry = (await terminal.Outbox.FindAsync(id))!;
            Assert.Equal(OutboxState.Sent, entry.State);
            Assert.InRange((entry.Receipt!.OccurredAt - at).Duration(), TimeSpan.Zero, TimeSpan.FromSeconds(1.5));
            var stored = await terminal.Client.GetFactAsync(id);
            Assert.Equal(Math.Abs(error) > 60, stored.Content.GetProperty("clock").GetProperty("doubtful").GetBoolean());
        }

        Assert.Equal(ClockProof.Bridged, (await terminal.Outbox.FindAsync(opened.FactId))!.Clock);
        Assert.Equal(ClockProof.RanOn, (await terminal.Outbox.FindAsync(late.FactId))!.Clock);
        var jump = Assert.Single(terminal.Outbox.View().ClockJumps);
        Assert.Equal(aheadLater - aheadThen, jump.By!.Value.TotalSeconds, 1.0);
    }

    [Fact]
    public async Task The_hour_that_summer_time_takes_or_gives_is_no_time_that_passed()
    {
        await DefineAsync();
        await using var terminal = await TerminalWithOutbox.OpenAsync(Host.Address, Host.Key());
        var unit = NewHead();

        // 2026-03-29 01:00 UTC: Lisbon goes from +00:00 to +01:00. By the wall 62 minutes pass, truly 2.
        var before = DateTimeOffset.Parse("2026-03-29T00:59:00+00:00", CultureInfo.InvariantCulture);
        var after = DateTimeOffset.Parse("2026-03-29T02:01:00+01:00", CultureInfo.InvariantCulture);
        await SendAsync(terminal, new UnitOpened { OccurredAt = before.AddMinutes(-9), Station = LampWorks.Bench, Person = "P-1", Unit = unit });
        await SendAsync(terminal, Step(unit, "BOND", before));
        var entry = await SendAsync(terminal, Step(unit, "TRY", after));

        // 2026-10-25 01:00 UTC: back. By the wall it is earlier afterwards, truly 12 minutes later: long enough.
        var other = NewHead();
        var autumn = DateTimeOffset.Parse("2026-10-25T01:55:00+01:00", CultureInfo.InvariantCulture);
        await SendAsync(terminal, new UnitOpened { OccurredAt = autumn.AddMinutes(-9), Station = LampWorks.Bench, Person = "P-1", Unit = other });
        await SendAsync(terminal, Step(other, "BOND", autumn));
        await SendAsync(terminal, Step(other, "TRY", DateTimeOffset.Parse("2026-10-25T01:07:00+00:00", CultureInfo.InvariantCulture)));

        Assert.Contains("interval-too-short", await KindsAsync(terminal, unit));
        Assert.DoesNotContain(await KindsAsync(terminal, other), k => k.StartsWith("interval", StringComparison.Ordinal));
        var stored = await terminal.Client.GetFactAsync(entry.FactId);
        Assert.Equal(after.ToUniversalTime(), stored.Content.GetProperty("occurredAt").GetDateTimeOffset().ToUniversalTime());
    }

    [Fact]
    public async Task After_a_restart_of_the_machine_an_unmeasured_clock_counts_as_uncertain_and_an_impossible_one_as_doubtful()
    {
        await DefineAsync();
        await using var terminal = await TerminalWithOutbox.OpenAsync(Host.Address, Host.Key());
        var (one, two) = (NewHead(), NewHead());
        var now = TimeProvider.System.GetUtcNow();
        var plain = await terminal.Outbox.EnqueueAsync(new UnitOpened { OccurredAt = now, Station = LampWorks.Bench, Person = "P-1", Unit = one });

        // The clock of the next run is hours ahead; it is set right only after another restart.
        terminal.Clock.Restart();
        terminal.Clock.Ahead = TimeSpan.FromHours(3);
        var ahead = await terminal.Outbox.EnqueueAsync(new UnitOpened { OccurredAt = terminal.Clock.GetUtcNow(), Station = LampWorks.Bench, Person = "P-1", Unit = two });
        terminal.Clock.Restart();
        terminal.Clock.Ahead = TimeSpan.Zero;
        Assert.Equal(2, terminal.Outbox.View().WaitingOnUnprovenClock);
        Assert.Contains(terminal.Outbox.View().ClockJumps, j => j.By is null);
        terminal.Run(100);
        await terminal.DrainAsync();

        Assert.Equal((OutboxState.Sent, ClockProof.Unproven), (await terminal.Outbox.FindAsync(plain.FactId)) is { } p ? (p.State, p.Clock!.Value) : default);
        Assert.Equal((OutboxState.Sent, ClockProof.Impossible), (await terminal.Outbox.FindAsync(ahead.FactId)) is { } a ? (a.State, a.Clock!.Value) : default);
        Assert.Contains("\"uncertainty\":\"PT1M\"", (await terminal.Client.GetFactAsync(plain.FactId)).Content.GetProperty("clock").GetRawText().Replace(" ", string.Empty, StringComparison.Ordinal), StringComparison.Ordinal);
        Assert.True((await terminal.Client.GetFactAsync(ahead.FactId)).Content.GetProperty("clock").GetProperty("doubtful").GetBoolean());
    }

    private static StepCompleted Step(UnitRef unit, string step, DateTimeOffset at) => new()
    {
        OccurredAt = at,
        StartedAt = at,
        Station = LampWorks.Bench,
        Person = "P-1",
        Unit = unit,
        Step = step,
        Checks = step == "TRY" ? [new() { Characteristic = "OK", Passed = true }] : null,
        Measurements = step == "BOND" ? [new() { Characteristic = "RIM", Value = 2, Unit = "mm" }] : null,
    };

    private static UnitRef NewHead() => new() { Item = "HEAD", Serial = FormattableString.Invariant($"{Interlocked.Increment(ref next)}") };

    private static async Task<List<string>> KindsAsync(TerminalWithOutbox terminal, UnitRef unit)
    {
        UnitView view = await terminal.Client.GetUnitAsync(unit);
        return [.. view.Findings.Select(f => f.Kind)];
    }

    private static async Task<OutboxEntry> SendAsync(TerminalWithOutbox terminal, FactMessage fact)
    {
        var entry = await terminal.Outbox.EnqueueAsync(fact);
        await new OutboxSender(terminal.Outbox, terminal.Client).SendPendingAsync();
        var sent = (await terminal.Outbox.FindAsync(entry.FactId))!;
        Assert.True(sent.State == OutboxState.Sent, $"{sent.Problem}");
        return sent;
    }

    private async Task DefineAsync()
    {
        if (await Tables.CountAsync(Host.Database, "events.mt_events") == 0)
        {
            // Long before anything that the tests tell of.
            await Acceptance.Robustness.Terminal.PostAllAsync(Host.Admin, new LampWorks(3, Some.Noon.AddDays(-20)).Definitions(), batch: 50);
        }
    }
}
