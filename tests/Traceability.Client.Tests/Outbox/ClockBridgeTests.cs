using Traceability.Acceptance.Robustness;
using Traceability.Client.Outbox;

namespace Traceability.Client.Tests.Outbox;

/// <summary>The clock that stamped a fact, told when it is sent, though it was set or the machine restarted meanwhile.</summary>
public sealed class ClockBridgeTests
{
    [Fact]
    public void What_the_service_works_out_is_when_it_truly_happened()
    {
        // A simulation: the true time is known, the wall clock is set at random moments, the steady clock is not.
        const int seed = 5;
        var dice = new Dice(seed);
        var bridged = 0;
        for (var round = 0; round < 2_000; round++)
        {
            var trueThen = Some.Noon.AddSeconds(dice.Int(0, 100_000));
            var error = TimeSpan.FromSeconds(dice.Pick(0, 1, 2, 59, 60, 61, 600, 86_400) * dice.Pick(1, -1));
            var then = new ClockStamp(trueThen + error, "run-1", TimeSpan.FromSeconds(1_000));
            var waited = TimeSpan.FromSeconds(dice.Int(0, 90_000));
            var set = TimeSpan.FromSeconds(dice.Pick(0, 0, 1, 2, 3, 59, 60, 61, 3_600, 86_400) * dice.Pick(1, -1));
            var now = new ClockStamp(then.Wall + waited + set, "run-1", then.Uptime + waited);

            var (said, proof) = ClockBridge.Say(then, now, null, TimeSpan.Zero, null);

            // What the service does: its time less what was said is the offset, which corrects the time of the fact.
            var offset = trueThen + waited - (now.Wall + said.Ahead);
            var corrected = then.Wall + offset;
            Assert.True((corrected - trueThen).Duration() <= ClockBridge.Same, $"seed {seed}, round {round}: off by {corrected - trueThen}");
            Assert.Equal(set.Duration() <= ClockBridge.Same ? ClockProof.RanOn : ClockProof.Bridged, proof);
            bridged += proof == ClockProof.Bridged ? 1 : 0;
        }

        Assert.InRange(bridged, 500, 1_999);
    }

    [Fact]
    public void Over_a_restart_of_the_machine_an_earlier_measurement_tells()
    {
        // Measured 90 s slow; then set 10 s forwards; stamped; restarted; now 5 s fast.
        var measured = new ClockMeasurement(new(Some.Noon.AddSeconds(-90), "run-1", TimeSpan.FromSeconds(100)), TimeSpan.FromSeconds(90));
        var then = new ClockStamp(Some.Noon.AddSeconds(-80 + 50), "run-1", TimeSpan.FromSeconds(150));
        var now = new ClockStamp(Some.Noon.AddHours(1).AddSeconds(5), "run-2", TimeSpan.FromSeconds(60));

        var (said, proof) = ClockBridge.Say(then, now, measured, TimeSpan.FromSeconds(-5), null);

        Assert.Equal(ClockProof.MeasuredBefore, proof);
        Assert.Equal(TimeSpan.FromSeconds(80), Some.Noon.AddHours(1) - (now.Wall + said.Ahead));
    }

    [Fact]
    public void Over_a_restart_without_a_measurement_nothing_is_said()
    {
        var then = new ClockStamp(Some.Noon, "run-1", TimeSpan.FromSeconds(100));
        var now = new ClockStamp(Some.Noon.AddHours(1), "run-2", TimeSpan.FromSeconds(60));

        Assert.Equal((RequestClock.Unsaid, ClockProof.Unproven), ClockBridge.Say(then, now, null, TimeSpan.Zero, Some.Noon.AddMinutes(-1)));
    }

    [Theory]
    [InlineData(3 * 3_600, 0)]
    [InlineData(0, 40 * 365 * 86_400)]
    public void A_clock_that_can_t_have_been_right_is_told_so_that_the_service_doubts_it(int aheadSeconds, int latestBeforeSeconds)
    {
        var now = new ClockStamp(Some.Noon.AddHours(1), "run-2", TimeSpan.FromSeconds(60));
        var then = new ClockStamp(aheadSeconds > 0 ? now.Wall.AddSeconds(aheadSeconds) : Some.Noon.AddSeconds(-latestBeforeSeconds), "run-1", TimeSpan.FromSeconds(100));
        var latest = latestBeforeSeconds > 0 ? Some.Noon : (DateTimeOffset?)null;

        var (said, proof) = ClockBridge.Say(then, now, null, TimeSpan.Zero, latest);

        var offset = now.Wall - (now.Wall + said.Ahead);
        Assert.Equal(ClockProof.Impossible, proof);
        Assert.True(offset.Duration() > TimeSpan.FromSeconds(60));
        Assert.True(then.Wall + offset <= now.Wall);
        Assert.True(latest is null || then.Wall + offset >= latest);
    }
}
