namespace Traceability.Domain.Containments;

/// <summary>How long it took until members were contained: from the opening of the case to the first hold or the first follow-up, whichever came first.</summary>
/// <param name="Count">How many members are contained.</param>
/// <param name="Median">The median; null for none.</param>
/// <param name="Longest">The longest; null for none.</param>
/// <remarks>
/// The median of an even number is the mean of the two in the middle (ISO 3534-1:2006, 1.13, from memory). A member that was followed up before the
/// case was opened counts as zero.
/// </remarks>
public sealed record TimeToContain(int Count, TimeSpan? Median, TimeSpan? Longest)
{
    /// <summary>The figures of members that were contained at these moments.</summary>
    public static TimeToContain Of(DateTimeOffset openedAt, IEnumerable<DateTimeOffset> containedAt)
    {
        TimeSpan[] times = [.. containedAt.Select(at => at > openedAt ? at - openedAt : TimeSpan.Zero).Order()];
        return times.Length == 0
            ? new(0, null, null)
            : new(times.Length, (times[(times.Length - 1) / 2] + times[times.Length / 2]) / 2, times[^1]);
    }
}
