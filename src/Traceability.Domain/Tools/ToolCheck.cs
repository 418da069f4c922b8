using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Tools;

/// <summary>What a check says of the tool.</summary>
public enum CheckVerdict
{
    /// <summary>It had no limits to be held against.</summary>
    NotHeld,

    /// <summary>Every reading is within the limits, by at least the uncertainty.</summary>
    Passed,

    /// <summary>Every reading is within the limits, and one is closer to a limit than the uncertainty, or can't be compared: neither good nor bad is shown.</summary>
    Doubtful,

    /// <summary>A reading is outside the limits.</summary>
    Failed,
}

/// <summary>Holds the readings of a check against its limits.</summary>
/// <remarks>
/// A pass needs the reading inside the limits by the expanded uncertainty: guarded acceptance, ISO 14253-1:2017, clause 5
/// (acceptance zone), JCGM 106:2012, 8.3.2. A reading outside the limits fails whatever its uncertainty: for a tool that work was
/// done with, doubt is enough to look at the work.
/// </remarks>
public static class ToolCheck
{
    /// <summary>The verdict.</summary>
    public static CheckVerdict Of(ToolChecked check)
    {
        ArgumentNullException.ThrowIfNull(check);
        if (check.Lower is null && check.Upper is null)
        {
            return CheckVerdict.NotHeld;
        }

        var readings = check.Readings.OrEmpty();
        var verdict = readings.IsEmpty ? CheckVerdict.Doubtful : CheckVerdict.Passed;
        foreach (var reading in readings)
        {
            var one = (CheckVerdict)Math.Max((int)Of(reading, check.Lower, check.Uncertainty, isLower: true), (int)Of(reading, check.Upper, check.Uncertainty, isLower: false));
            verdict = one > verdict ? one : verdict;
        }

        return verdict;
    }

    /// <summary>One value against one limit.</summary>
    /// <param name="value">The value.</param>
    /// <param name="limit">The limit; null: none, passed.</param>
    /// <param name="uncertainty">The expanded uncertainty of the value; null: none.</param>
    /// <param name="isLower">Whether it is a lower limit, else an upper one.</param>
    internal static CheckVerdict Of(EnteredQuantity value, EnteredQuantity? limit, EnteredQuantity? uncertainty, bool isLower)
    {
        if (limit is not { } set)
        {
            return CheckVerdict.Passed;
        }

        if (!Values.TryCompare(value.Value, value.Unit, set.Value, set.Unit, out var order))
        {
            return CheckVerdict.Doubtful;
        }

        if (isLower ? order < 0 : order > 0)
        {
            return CheckVerdict.Failed;
        }

        if (uncertainty is not { } guard)
        {
            return CheckVerdict.Passed;
        }

        return Values.TryConvertDifference(guard.Value, guard.Unit, set.Unit, out var band)
            && Values.TryAdd(set.Value, isLower ? band : -band, out var bound)
            && Values.TryCompare(value.Value, value.Unit, bound, set.Unit, out var inside)
            && (isLower ? inside >= 0 : inside <= 0)
            ? CheckVerdict.Passed
            : CheckVerdict.Doubtful;
    }
}
