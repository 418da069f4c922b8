namespace Traceability.Service.Tests.Reading;

/// <summary>A clock that a test sets; timers run in real time.</summary>
internal sealed class FixedClock(DateTimeOffset now) : TimeProvider
{
    /// <summary>The present.</summary>
    public DateTimeOffset Now { get; set; } = now;

    public override DateTimeOffset GetUtcNow() => Now;
}
