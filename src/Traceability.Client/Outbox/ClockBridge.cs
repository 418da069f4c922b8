namespace Traceability.Client.Outbox;

/// <summary>What is known, at the moment of sending, of the clock that a fact's times were read off.</summary>
public enum ClockProof
{
    /// <summary>The clock has run on since: what it shows now tells its offset.</summary>
    RanOn,

    /// <summary>The clock was set since; by how much is known from the steady clock, so its offset is told as if it had run on.</summary>
    Bridged,

    /// <summary>The machine was restarted since; the clock's offset had been measured before.</summary>
    MeasuredBefore,

    /// <summary>The machine was restarted since, and the clock had not been measured: nothing is said, and the service takes the times as uncertain.</summary>
    Unproven,

    /// <summary>As unproven, but what it showed can't have been right: the least error is told, which the service takes as doubtful.</summary>
    Impossible,
}

/// <summary>What both of the terminal's clocks showed at one moment.</summary>
/// <param name="Wall">The one that can be set.</param>
/// <param name="Run">The run of the machine.</param>
/// <param name="Uptime">The steady one.</param>
internal readonly record struct ClockStamp(DateTimeOffset Wall, string Run, TimeSpan Uptime);

/// <summary>A measurement of the wall clock against the service.</summary>
/// <param name="Stamp">When.</param>
/// <param name="Offset">Service's time less the wall clock's.</param>
internal sealed record ClockMeasurement(ClockStamp Stamp, TimeSpan Offset);

/// <summary>
/// The service measures the clock when facts are sent, and they may have been stamped long before: this says what the clock
/// that stamped them would show at the moment of sending, had nobody set it since.
/// </summary>
internal static class ClockBridge
{
    /// <summary>Up to this the two clocks ran alike.</summary>
    public static readonly TimeSpan Same = TimeSpan.FromSeconds(1);

    // Past the service's default bound for a doubtful clock, and past what may pass between two readings.
    private static readonly TimeSpan SurelyWrong = TimeSpan.FromSeconds(60);

    /// <summary>What to say of the clock of a stamp.</summary>
    /// <param name="then">When the fact was taken in.</param>
    /// <param name="now">The moment of sending.</param>
    /// <param name="before">The last measurement of the run of the machine in which the fact was taken in; null if there was none.</param>
    /// <param name="offsetNow">The wall clock's offset now.</param>
    /// <param name="latestBefore">The latest that the wall clock had ever shown when an earlier fact was taken in; null for the first.</param>
    public static (RequestClock Said, ClockProof Proof) Say(
        ClockStamp then, ClockStamp now, ClockMeasurement? before, TimeSpan offsetNow, DateTimeOffset? latestBefore)
    {
        if (string.Equals(then.Run, now.Run, StringComparison.Ordinal))
        {
            // Ahead of the present clock by what was taken off it since.
            var ahead = -StepBetween(then, now);
            return ahead.Duration() <= Same ? (RequestClock.Own, ClockProof.RanOn) : (new(true, Whole(ahead)), ClockProof.Bridged);
        }

        if (before is not null)
        {
            var offsetThen = before.Offset - StepBetween(before.Stamp, then);
            return (new(true, Whole(offsetNow - offsetThen)), ClockProof.MeasuredBefore);
        }

        // It showed a time that is still to come, or an earlier one than it had shown before.
        var tooFast = then.Wall - (now.Wall + offsetNow);
        if (tooFast > SurelyWrong)
        {
            return (new(true, Whole(tooFast + offsetNow)), ClockProof.Impossible);
        }

        return latestBefore is { } latest && latest - then.Wall > SurelyWrong
            ? (new(true, Whole(offsetNow - (latest - then.Wall))), ClockProof.Impossible)
            : (RequestClock.Unsaid, ClockProof.Unproven);
    }

    /// <summary>By how much the wall clock was set between two moments of one run: positive when forwards.</summary>
    public static TimeSpan StepBetween(ClockStamp earlier, ClockStamp later) => later.Wall - earlier.Wall - (later.Uptime - earlier.Uptime);

    // Whole seconds, as the service rounds too: so that facts of one setting go into one request.
    private static TimeSpan Whole(TimeSpan value) => TimeSpan.FromSeconds(Math.Round(value.TotalSeconds));
}
