using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Tools;

/// <summary>A time over which it is not shown that a tool was within its limits, because it was found outside them.</summary>
/// <param name="Setting">The setting that it holds for; null: uses whose setting is not recorded.</param>
/// <param name="From">The last time before that it was calibrated or passed a check; null: never.</param>
/// <param name="Since">The fact that says so; null: none.</param>
/// <param name="FoundAt">When it was found outside its limits.</param>
/// <param name="FoundBy">The calibration or check that found it.</param>
/// <param name="To">From when on it is shown good again, or was calibrated anew, excluded; null: not yet.</param>
/// <param name="EndedBy">The fact that says so; null: none yet.</param>
public sealed record SuspectWindow(
    Code? Setting, DateTimeOffset? From, Guid? Since, DateTimeOffset FoundAt, Guid FoundBy, DateTimeOffset? To, Guid? EndedBy)
{
    /// <summary>Whether a use at that time is in it.</summary>
    public bool Contains(DateTimeOffset at) => (From is not { } from || at >= from) && (To is not { } to || at < to);
}

/// <summary>Works out over which times a tool is suspect: a pure function of its facts, whatever order they arrived in.</summary>
/// <remarks>
/// <para>
/// What is known of a tool is known at its calibrations and checks. A calibration that found it outside its limits makes the time
/// back to the calibration or passed check before it suspect, and is itself a new beginning. A failed check does the same, and the
/// time after it stays suspect until a check passes or the tool is calibrated.
/// </para>
/// <para>
/// A calibration is about all settings. A check of one setting clears that setting only; a failed one makes suspect what was done at
/// that setting and at settings that nobody recorded. A doubtful check, see <see cref="CheckVerdict.Doubtful"/>, says neither.
/// </para>
/// </remarks>
public static class SuspectWindows
{
    /// <summary>Stands for every setting that none of the tool's facts names.</summary>
    public static readonly Code Unnamed;

    private enum Evidence
    {
        None,
        Good,
        Bad,
        Calibrated,
        CalibratedBad,
    }

    /// <summary>The window that a use at that time falls into; null if it falls into none.</summary>
    /// <param name="tool">The tool.</param>
    /// <param name="setting">The setting that it was used at; null: not recorded.</param>
    /// <param name="at">When it was used.</param>
    public static SuspectWindow? At(Tool tool, Code? setting, DateTimeOffset at)
    {
        ArgumentNullException.ThrowIfNull(tool);
        var facts = tool.Effective;
        var first = FirstAfter(facts, at);
        var last = LastConclusive(facts, setting, first - 1);
        if (last >= 0 && Of(facts[last], setting) == Evidence.Bad)
        {
            return Around(facts, setting, last, NextGood(facts, setting, first));
        }

        for (var i = first; i < facts.Length; i++)
        {
            switch (Of(facts[i], setting))
            {
                case Evidence.Good or Evidence.Calibrated:
                    return null;
                case Evidence.CalibratedBad:
                    return Window(facts, setting, last, i, i);
                case Evidence.Bad:
                    return Window(facts, setting, last, i, NextGood(facts, setting, i + 1));
            }
        }

        return null;
    }

    /// <summary>Every window of a setting, oldest first.</summary>
    public static ImmutableArray<SuspectWindow> Of(Tool tool, Code? setting)
    {
        ArgumentNullException.ThrowIfNull(tool);
        var facts = tool.Effective;
        var windows = ImmutableArray.CreateBuilder<SuspectWindow>();
        int mark = -1, found = -1;
        for (var i = 0; i < facts.Length; i++)
        {
            var evidence = Of(facts[i], setting);
            if (evidence == Evidence.Bad)
            {
                found = found < 0 ? i : found;
            }
            else if (evidence != Evidence.None)
            {
                found = found < 0 && evidence == Evidence.CalibratedBad ? i : found;
                Add(found, i);
                (mark, found) = (i, -1);
            }
        }

        Add(found, -1);
        return windows.ToImmutable();

        void Add(int by, int end)
        {
            // Between two facts of one moment there is no time to have done anything in.
            if (by >= 0 && Window(facts, setting, mark, by, end) is var window && (window.To is not { } to || window.From is not { } from || from < to))
            {
                windows.Add(window);
            }
        }
    }

    /// <summary>Every setting that the tool's facts name, in order, and null for uses whose setting is not recorded.</summary>
    public static ImmutableArray<Code?> Settings(Tool tool)
    {
        ArgumentNullException.ThrowIfNull(tool);
        return
        [
            null,
            .. tool.Effective.Where(f => !f.IsVoided).Select(f => f.Fact switch
                {
                    ToolChecked c => c.Setting,
                    ToolSettingVerified v => v.Setting,
                    ToolStudied s => s.Setting,
                    _ => (Code?)null,
                })
                .Where(s => s is not null)
                .Distinct()
                .OrderBy(s => s!.Value.Value, StringComparer.Ordinal),
        ];
    }

    /// <summary>When the tool was last shown good at a setting, by a calibration or a check; null: never.</summary>
    public static DateTimeOffset? LastGood(Tool tool, Code? setting)
    {
        ArgumentNullException.ThrowIfNull(tool);
        for (var i = tool.Effective.Length - 1; i >= 0; i--)
        {
            if (Of(tool.Effective[i], setting) is Evidence.Good or Evidence.Calibrated)
            {
                return tool.Effective[i].At;
            }
        }

        return null;
    }

    // The bad one may be one of several: the window was opened by the first of them.
    private static SuspectWindow Around(ImmutableArray<EffectiveFact> facts, Code? setting, int bad, int end)
    {
        var mark = bad - 1;
        for (; mark >= 0; mark--)
        {
            var evidence = Of(facts[mark], setting);
            if (evidence == Evidence.Bad)
            {
                bad = mark;
            }
            else if (evidence != Evidence.None)
            {
                break;
            }
        }

        return Window(facts, setting, mark, bad, end);
    }

    private static SuspectWindow Window(ImmutableArray<EffectiveFact> facts, Code? setting, int mark, int found, int end) => new(
        setting,
        mark < 0 ? null : facts[mark].At,
        mark < 0 ? null : facts[mark].Id,
        facts[found].At,
        facts[found].Id,
        end < 0 ? null : facts[end].At,
        end < 0 ? null : facts[end].Id);

    private static int LastConclusive(ImmutableArray<EffectiveFact> facts, Code? setting, int from)
    {
        while (from >= 0 && Of(facts[from], setting) == Evidence.None)
        {
            from--;
        }

        return from;
    }

    private static int NextGood(ImmutableArray<EffectiveFact> facts, Code? setting, int from)
    {
        for (var i = from; i < facts.Length; i++)
        {
            if (Of(facts[i], setting) is not (Evidence.None or Evidence.Bad))
            {
                return i;
            }
        }

        return -1;
    }

    // The facts are ordered by when they happened, and a tool that is checked every day has thousands.
    private static int FirstAfter(ImmutableArray<EffectiveFact> facts, DateTimeOffset at)
    {
        var (low, high) = (0, facts.Length);
        while (low < high)
        {
            var middle = (low + high) / 2;
            (low, high) = facts[middle].At <= at ? (middle + 1, high) : (low, middle);
        }

        return low;
    }

    private static Evidence Of(EffectiveFact fact, Code? setting) => fact switch
    {
        { IsVoided: true } => Evidence.None,
        { Fact: ToolCalibrated c } => c.FoundGood ? Evidence.Calibrated : Evidence.CalibratedBad,
        { Fact: ToolChecked c } => Of(c, setting),
        _ => Evidence.None,
    };

    private static Evidence Of(ToolChecked check, Code? setting)
    {
        var isOfThis = check.Setting is not { } tried || tried == setting;
        if (!isOfThis && setting is not null)
        {
            return Evidence.None;
        }

        return ToolCheck.Of(check) switch
        {
            CheckVerdict.Passed when isOfThis => Evidence.Good,
            CheckVerdict.Failed => Evidence.Bad,
            _ => Evidence.None,
        };
    }
}
