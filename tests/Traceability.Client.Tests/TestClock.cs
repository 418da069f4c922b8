using Traceability.Client.Outbox;

namespace Traceability.Client.Tests;

/// <summary>A terminal's clocks: the wall clock can be set, the steady one can't, and the machine can be restarted.</summary>
internal sealed class TestClock : TimeProvider, ITerminalUptime
{
    private readonly long began = System.GetTimestamp();
    private long aheadTicks;
    private long passedTicks;
    private int run = 1;

    /// <summary>How far the wall clock is ahead of the true time (while no time was let pass).</summary>
    public TimeSpan Ahead
    {
        get => new(Interlocked.Read(ref aheadTicks));
        set => Interlocked.Exchange(ref aheadTicks, value.Ticks);
    }

    /// <inheritdoc />
    public string Run => FormattableString.Invariant($"run-{Volatile.Read(ref run)}");

    /// <inheritdoc />
    public override DateTimeOffset GetUtcNow() => System.GetUtcNow() + Ahead + new TimeSpan(Interlocked.Read(ref passedTicks));

    /// <inheritdoc />
    public TimeSpan Read() => System.GetElapsedTime(began) + new TimeSpan(Interlocked.Read(ref passedTicks));

    /// <summary>Time goes by, for both clocks: only for tests without a service, whose clock does not follow.</summary>
    public void Pass(TimeSpan time) => Interlocked.Add(ref passedTicks, time.Ticks);

    /// <summary>The machine was switched off and on.</summary>
    public void Restart() => Interlocked.Increment(ref run);
}
