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
        foreach (var use in uses)
        {
            var tool = history.References.FindTool(use.Tool);
            var r = Serves(requirements, use, tool, filled);
            if (r >= 0)
            {
                filled[r] = true;
            }

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
            && (last?.Fact is not ToolCalibrated { LeftGood: true } calibrated || calibrated.ValidUntil <= attempt.At))
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

        if (tool.CalibrationAfter(attempt.At) is { Fact: ToolCalibrated { FoundGood: false } } next)
        {
            sink.Add(
                attempt,
                FindingKinds.ToolFoundOut,
                rule,
                requirement?.Policy,
                $"Tool {tool.Number} was found outside its limits at the calibration after this use.",
                ("tool", tool.Number.ToString()),
                ("last-calibration", last is null ? "none" : Say.Time(last.At)),
                ("found-out", Say.Time(next.At)));
        }
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

        if (IsBeyond(verified.Torque, requirement.TorqueMin, below: true) || IsBeyond(verified.Torque, requirement.TorqueMax, below: false))
        {
            sink.Add(
                attempt,
                FindingKinds.ToolTorqueOutOfLimits,
                rule,
                requirement.Policy,
                $"Tool {use.Tool} gave {verified.Torque} at setting {setting}; the limits are {requirement.TorqueMin?.ToString() ?? "none"} and {requirement.TorqueMax?.ToString() ?? "none"}.",
                ("tool", use.Tool.ToString()),
                ("setting", setting.ToString()),
                ("torque", verified.Torque.ToString()));
        }
    }

    // A torque that can't be compared with the limit has not been shown to be within it.
    private static bool IsBeyond(EnteredQuantity torque, EnteredQuantity? limit, bool below) =>
        limit is { } set
        && (!Values.TryCompare(torque.Value, torque.Unit, set.Value, set.Unit, out var order) || (below ? order < 0 : order > 0));
}
