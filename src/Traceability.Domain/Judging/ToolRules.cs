using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;
using Traceability.Domain.Tools;

namespace Traceability.Domain.Judging;

/// <summary>Tools: the right class, calibrated, at the prescribed setting, with a measured torque for that setting.</summary>
internal static class ToolRules
{
    public static void Judge(UnitHistory history, Attempt attempt, FindingSink sink)
    {
        var requirements = attempt.Step!.Tools.OrEmpty();
        var uses = attempt.Record.Tools.OrEmpty();
        if (requirements.IsEmpty && uses.IsEmpty)
        {
            return;
        }

        Span<bool> filled = requirements.Length <= 64 ? stackalloc bool[requirements.Length] : new bool[requirements.Length];
        attempt.ToolServes = uses.IsEmpty ? [] : new int[uses.Length];
        for (var u = 0; u < uses.Length; u++)
        {
            var use = uses[u];
            var tool = history.References.FindTool(use.Tool);
            var r = Serves(requirements, use, tool, filled);
            if (r >= 0)
            {
                filled[r] = true;
            }

            attempt.ToolServes[u] = r;
            JudgeUse(attempt, r >= 0 ? requirements[r] : null, use, tool, sink);
        }

        for (var r = 0; r < requirements.Length; r++)
        {
            attempt.Opportunities++;
            if (!filled[r])
            {
                sink.Add(attempt, FindingKinds.ToolNotRecorded, requirements[r].Code.ToString(), requirements[r].Policy, $"No tool of class {requirements[r].ToolClass} is recorded for {requirements[r].Code}.", ("class", requirements[r].ToolClass.ToString()));
            }
        }
    }

    // Named in the record, else the first open one of its class. A tool that isn't known, or of a class that nothing
    // asks for, stands where something is still open: that is what it was used for.
    private static int Serves(ImmutableArray<ToolRequirement> requirements, ToolUse use, Tool? tool, ReadOnlySpan<bool> filled)
    {
        var ofClass = -1;
        var open = -1;
        for (var r = requirements.Length - 1; r >= 0; r--)
        {
            if (use.Requirement is { } code && requirements[r].Code == code)
            {
                return r;
            }

            if (tool?.Definition is { } definition && requirements[r].ToolClass == definition.ToolClass && (ofClass < 0 || !filled[r]))
            {
                ofClass = r;
            }

            open = filled[r] ? open : r;
        }

        return ofClass >= 0 ? ofClass : open;
    }

    private static void JudgeUse(Attempt attempt, ToolRequirement? requirement, ToolUse use, Tool? tool, FindingSink sink)
    {
        var rule = requirement?.Code.ToString() ?? use.Tool.ToString();
        if (tool?.Definition is not { } definition)
        {
            sink.Add(attempt, FindingKinds.ToolUnknown, rule, requirement?.Policy, $"Tool {use.Tool} is not known here.", ("tool", use.Tool.ToString()));
            return;
        }

        JudgeCalibration(attempt, requirement, rule, tool, definition, sink);
        JudgeSuspicion(attempt, requirement, rule, use, tool, sink);
        if (requirement is null)
        {
            return;
        }

        if (definition.ToolClass != requirement.ToolClass)
        {
            sink.Add(
                attempt,
                FindingKinds.ToolWrongClass,
                rule,
                requirement.Policy,
                $"Tool {use.Tool} is of class {definition.ToolClass}; {requirement.Code} asks for {requirement.ToolClass}.",
                ("tool", use.Tool.ToString()),
                ("class", definition.ToolClass.ToString()));
            return;
        }

        JudgeSetting(attempt, requirement, use, sink);
        if (requirement.TorqueMin is not null || requirement.TorqueMax is not null)
        {
            JudgeTorque(attempt, requirement, use, tool, sink);
        }
    }

    private static void JudgeCalibration(
        Attempt attempt, ToolRequirement? requirement, string rule, Tool tool, ToolDefined definition, FindingSink sink)
    {
        var last = tool.CalibrationAt(attempt.At);
        if (definition.NeedsCalibration
            && (last?.Fact is not ToolCalibrated { LeftGood: true } || tool.ValidUntil(last) <= attempt.At))
        {
            sink.Add(
                attempt,
                FindingKinds.ToolNotCalibrated,
                rule,
                requirement?.Policy,
                $"Tool {tool.Number} had no valid calibration when it was used.",
                ("tool", tool.Number.ToString()),
                ("last-calibration", last is null ? "none" : Say.Time(last.At)),
                ("used", Say.Time(attempt.At)));
        }

        if (tool.WithdrawalAt(attempt.At) is { } withdrawal)
        {
            sink.Add(
                attempt,
                FindingKinds.ToolWithdrawn,
                rule,
                requirement?.Policy,
                $"Tool {tool.Number} was out of use when it was used.",
                ("tool", tool.Number.ToString()),
                ("withdrawn", Say.Time(withdrawal.At)));
        }
    }

    // Found outside its limits after this use: doubtful. Before it, and not shown good since: it should not have been used.
    private static void JudgeSuspicion(Attempt attempt, ToolRequirement? requirement, string rule, ToolUse use, Tool tool, FindingSink sink)
    {
        if (SuspectWindows.At(tool, use.Setting, attempt.At) is not { } window)
        {
            return;
        }

        if (window.FoundAt <= attempt.At)
        {
            sink.Add(
                attempt,
                FindingKinds.ToolCheckFailed,
                rule,
                requirement?.Policy,
                $"Tool {tool.Number} had failed a check before this use and was not shown good since.",
                ("tool", tool.Number.ToString()),
                ("failed", Say.Time(window.FoundAt)),
                ("record", window.FoundBy.ToString()));
            return;
        }

        if (tool.Find(window.FoundBy)?.Fact is ToolCalibrated)
        {
            sink.Add(
                attempt,
                FindingKinds.ToolFoundOut,
                rule,
                requirement?.Policy,
                $"Tool {tool.Number} was found outside its limits at the calibration after this use.",
                ("tool", tool.Number.ToString()),
                (window.Since is { } mark && tool.Find(mark)?.Fact is ToolChecked ? "last-check" : "last-calibration", window.From is { } since ? Say.Time(since) : "none"),
                ("found-out", Say.Time(window.FoundAt)));
            return;
        }

        sink.Add(
            attempt,
            FindingKinds.ToolFoundOut,
            rule,
            requirement?.Policy,
            $"Tool {tool.Number} was found outside its limits at a check after this use.",
            ("tool", tool.Number.ToString()),
            ("last-good", window.From is { } from ? Say.Time(from) : "none"),
            ("found-out", Say.Time(window.FoundAt)),
            ("record", window.FoundBy.ToString()));
    }

    private static void JudgeSetting(Attempt attempt, ToolRequirement requirement, ToolUse use, FindingSink sink)
    {
        if (requirement.Setting is not { } prescribed || use.Setting == prescribed)
        {
            return;
        }

        if (use.Setting is not { } setting)
        {
            sink.Add(attempt, FindingKinds.ToolSettingNotVerified, requirement.Code.ToString(), requirement.Policy, $"No setting of tool {use.Tool} is recorded; {prescribed} is prescribed.", ("tool", use.Tool.ToString()), ("prescribed", prescribed.ToString()));
            return;
        }

        sink.Add(
            attempt,
            FindingKinds.ToolSettingWrong,
            requirement.Code.ToString(),
            requirement.Policy,
            $"Tool {use.Tool} was set to {setting}; {prescribed} is prescribed.",
            ("tool", use.Tool.ToString()),
            ("setting", setting.ToString()),
            ("prescribed", prescribed.ToString()));
    }

    // A clutch number is not a torque: only a measurement of this tool at this setting tells what it gave.
    private static void JudgeTorque(Attempt attempt, ToolRequirement requirement, ToolUse use, Tool tool, FindingSink sink)
    {
        var rule = requirement.Code.ToString();
        if (use.Setting is not { } setting)
        {
            if (requirement.Setting is null)
            {
                sink.Add(attempt, FindingKinds.ToolSettingNotVerified, rule, requirement.Policy, $"No setting of tool {use.Tool} is recorded, so its torque is not known.", ("tool", use.Tool.ToString()));
            }

            return;
        }

        var verified = tool.VerifiedAt(setting, attempt.At);
        if (verified is null || verified.ValidUntil <= attempt.At)
        {
            sink.Add(
                attempt,
                FindingKinds.ToolSettingNotVerified,
                rule,
                requirement.Policy,
                $"The torque of tool {use.Tool} at setting {setting} was {(verified is null ? "not measured before" : "measured too long before")} this use.",
                ("tool", use.Tool.ToString()),
                ("setting", setting.ToString()),
                ("valid-until", verified?.ValidUntil is { } until ? Say.Time(until) : "none"));
            return;
        }

        // A torque that can't be compared with a limit has not been shown to be within it.
        if (IsBeyond(verified.Torque, requirement.TorqueMin, below: true) || IsBeyond(verified.Torque, requirement.TorqueMax, below: false))
        {
            Report(FindingKinds.ToolTorqueOutOfLimits, "the limits are");
        }
        else if (verified.Uncertainty is { } uncertainty
            && (ToolCheck.Of(verified.Torque, requirement.TorqueMin, uncertainty, isLower: true) != CheckVerdict.Passed
                || ToolCheck.Of(verified.Torque, requirement.TorqueMax, uncertainty, isLower: false) != CheckVerdict.Passed))
        {
            // Guarded acceptance: ISO 14253-1:2017, clause 5; JCGM 106:2012, 8.3.2.
            Report(FindingKinds.ToolTorqueInGuardBand, $"with its uncertainty of {uncertainty} it is not shown to be within");
        }

        void Report(string kind, string what)
        {
            var message = $"Tool {use.Tool} gave {verified.Torque} at setting {setting}; {what} {requirement.TorqueMin?.ToString() ?? "none"} and {requirement.TorqueMax?.ToString() ?? "none"}.";
            if (verified.Uncertainty is { } u)
            {
                sink.Add(attempt, kind, rule, requirement.Policy, message, ("tool", use.Tool.ToString()), ("setting", setting.ToString()), ("torque", verified.Torque.ToString()), ("uncertainty", u.ToString()));
            }
            else
            {
                sink.Add(attempt, kind, rule, requirement.Policy, message, ("tool", use.Tool.ToString()), ("setting", setting.ToString()), ("torque", verified.Torque.ToString()));
            }
        }
    }

    private static bool IsBeyond(EnteredQuantity torque, EnteredQuantity? limit, bool below) =>
        limit is { } set
        && (!Values.TryCompare(torque.Value, torque.Unit, set.Value, set.Unit, out var order) || (below ? order < 0 : order > 0));
}
