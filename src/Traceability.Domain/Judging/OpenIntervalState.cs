namespace Traceability.Domain.Judging;

/// <summary>How an interval that has started and not ended stands at a moment.</summary>
public enum OpenIntervalState
{
    /// <summary>Longer than the maximum, whichever way the clock was off.</summary>
    Overdue,

    /// <summary>The maximum lies within the clock's uncertainty.</summary>
    UndeterminedAtMaximum,

    /// <summary>The minimum is met and the maximum not exceeded, whichever way the clock was off.</summary>
    Ready,

    /// <summary>The minimum lies within the clock's uncertainty.</summary>
    UndeterminedAtMinimum,

    /// <summary>Shorter than the minimum, whichever way the clock was off.</summary>
    NotReady,
}

/// <summary>Judges open intervals at a moment, with the limits of a verdict on an interval that would end at it.</summary>
public static class OpenIntervalStates
{
    /// <summary>The state of an interval at a moment of the service's own clock.</summary>
    public static OpenIntervalState At(OpenInterval open, DateTimeOffset now)
    {
        ArgumentNullException.ThrowIfNull(open);
        return open.MayBeOverdueAt is { } mayBe
            ? At(open.ReadyAt, open.Uncertainty, mayBe, open.SurelyOverdueAt, now)
            : At(open.ReadyAt, open.OverdueAt, open.Uncertainty, now, open.Assumption is not null, open.AssumedUntil);
    }

    /// <summary>The same for a maximum that is an open time.</summary>
    /// <param name="readyAt">From when on the minimum is met; null without one.</param>
    /// <param name="uncertainty">How far the start may be off, either way; not negative.</param>
    /// <param name="mayBeOverdueAt">After when the maximum may have been exceeded; the uncertainty is taken off already.</param>
    /// <param name="surelyOverdueAt">After when it surely was; null: no readings show it.</param>
    /// <param name="now">The moment.</param>
    public static OpenIntervalState At(DateTimeOffset? readyAt, TimeSpan uncertainty, DateTimeOffset mayBeOverdueAt, DateTimeOffset? surelyOverdueAt, DateTimeOffset now)
    {
        var state = At(readyAt, null, uncertainty, now);
        return state == OpenIntervalState.NotReady ? state
            : now > surelyOverdueAt ? OpenIntervalState.Overdue
            : now > mayBeOverdueAt ? OpenIntervalState.UndeterminedAtMaximum
            : state;
    }

    /// <summary>The same for a minimum that may depend on temperature.</summary>
    /// <param name="readyAt">From when on the minimum is met; null without one, and where an assumption says that no time can be told.</param>
    /// <param name="overdueAt">After when the maximum is exceeded; null without one.</param>
    /// <param name="uncertainty">How far the start may be off, either way; not negative.</param>
    /// <param name="now">The moment.</param>
    /// <param name="isAssumed">Whether the time of readiness rests on an assumption.</param>
    /// <param name="assumedUntil">Until when readings bear it out; null: no reading is needed.</param>
    /// <remarks>A forecast that no reading bears out never becomes ready by waiting: it becomes undetermined.</remarks>
    public static OpenIntervalState At(
        DateTimeOffset? readyAt, DateTimeOffset? overdueAt, TimeSpan uncertainty, DateTimeOffset now, bool isAssumed, DateTimeOffset? assumedUntil)
    {
        var state = At(readyAt ?? (isAssumed ? DateTimeOffset.MaxValue : null), overdueAt, uncertainty, now);
        return state == OpenIntervalState.Ready && readyAt > assumedUntil ? OpenIntervalState.UndeterminedAtMinimum : state;
    }

    /// <summary>The state at a moment of the service's own clock. Exactly the minimum is ready and exactly the maximum not overdue.</summary>
    /// <param name="readyAt">From when on the minimum is met; null without one.</param>
    /// <param name="overdueAt">After when the maximum is exceeded; null without one.</param>
    /// <param name="uncertainty">How far the start may be off, either way; not negative.</param>
    /// <param name="now">The moment.</param>
    /// <remarks>Where both limits lie within the uncertainty, the maximum is told of: it can't be waited out.</remarks>
    public static OpenIntervalState At(DateTimeOffset? readyAt, DateTimeOffset? overdueAt, TimeSpan uncertainty, DateTimeOffset now)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(uncertainty, TimeSpan.Zero);

        // How far beyond the limit; the uncertainty is taken off or added there, where it can't leave the calendar.
        var overReady = now - readyAt;
        var overMaximum = now - overdueAt;
        if (overReady < -uncertainty)
        {
            return OpenIntervalState.NotReady;
        }

        if (overMaximum > uncertainty)
        {
            return OpenIntervalState.Overdue;
        }

        if (overMaximum > -uncertainty)
        {
            return OpenIntervalState.UndeterminedAtMaximum;
        }

        return overReady < uncertainty ? OpenIntervalState.UndeterminedAtMinimum : OpenIntervalState.Ready;
    }
}
