using Traceability.Contracts.Facts;
using Traceability.Contracts.Tools;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Domain.Tools;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Tools;

/// <summary>Turns what is worked out of a tool's facts into answers.</summary>
internal static class ToolViews
{
    /// <summary>The tool's life at that time.</summary>
    public static ToolLifeView Life(KnownTool known, DateTimeOffset now)
    {
        var tool = known.Tool;
        var standing = ToolLife.At(tool, now);
        var settings = SuspectWindows.Settings(tool);
        return new(
            tool.Number.Value,
            known.Definition.ToolClass.Value,
            known.Definition.Description,
            now,
            EnumNames<ToolCondition>.Of(standing.Condition),
            standing.DueAt,
            standing.Calibration?.At,
            standing.Calibration?.Id,
            standing.FailedBy?.At,
            standing.FailedBy?.Id,
            standing.Withdrawal?.At,
            (standing.Withdrawal?.Fact as Domain.Tools.ToolWithdrawn)?.Reason,
            [.. settings.OfType<Code>().Select(s => Setting(tool, s, now))],
            [.. settings.Append(SuspectWindows.Unnamed).SelectMany(s => SuspectWindows.Of(tool, s)).Select(Window)],
            known.UnreadableRecords);
    }

    /// <summary>What the tool's studies tell.</summary>
    public static ToolCapabilityView Capability(KnownTool known) => new(
        known.Tool.Number.Value,
        [.. SuspectWindows.Settings(known.Tool).OfType<Code>().Select(s => ToolCapability.Of(known.Tool, s)).OfType<ToolCapability>().Select(Capability)],
        known.UnreadableRecords);

    /// <summary>The tool's checks as a chart.</summary>
    public static ToolDriftView Drift(KnownTool known, Code? setting, ToolDrift drift) => new(
        known.Tool.Number.Value,
        setting?.Value,
        drift.Unit,
        drift.BaselineCount,
        drift.Limits?.Centre,
        drift.Limits?.Lower,
        drift.Limits?.Upper,
        drift.Limits?.RangeUpper,
        drift.Ewma?.Lower,
        drift.Ewma?.Upper,
        [.. drift.Points.Select(p => new DriftPointView(
            p.Check.Id, p.Check.At, EnumNames<CheckVerdict>.Of(p.Verdict), p.Value, p.MovingRange, p.Average, p.IsOut, p.IsDrifting))],
        known.UnreadableRecords);

    private static ToolSettingView Setting(Tool tool, Code setting, DateTimeOffset now)
    {
        var verified = tool.VerifiedAt(setting, now);
        var check = tool.Effective.LastOrDefault(f => f is { IsVoided: false, Fact: Domain.Tools.ToolChecked c } && c.Setting == setting && f.At <= now);
        return new(
            setting.Value,
            Quantity(verified?.Torque),
            Quantity(verified?.Uncertainty),
            verified?.At,
            verified?.ValidUntil,
            verified is not null && !(verified.ValidUntil <= now),
            check?.At,
            check is null ? null : EnumNames<CheckVerdict>.Of(ToolCheck.Of((Domain.Tools.ToolChecked)check.Fact)));
    }

    private static SuspectWindowView Window(SuspectWindow window) => new(
        window.Setting is not { } setting ? "not-recorded" : setting == SuspectWindows.Unnamed ? "others" : "setting",
        window.Setting is { } named && named != SuspectWindows.Unnamed ? named.Value : null,
        window.From,
        window.Since,
        window.FoundAt,
        window.FoundBy,
        window.To,
        window.EndedBy);

    private static SettingCapability Capability(ToolCapability capability)
    {
        var figures = capability.Figures;
        return new(
            capability.Setting.Value,
            capability.Unit,
            [.. figures.Joints.Select(j => Joint(j, capability.Studies.First(s => ((Domain.Tools.ToolStudied)s.Fact).Joint == j.Joint)))],
            figures.CombinedMean,
            figures.CombinedScatter,
            figures.CombinedShare,
            figures.MeanShift,
            figures.MeanShiftShare,
            figures.IsFull);
    }

    private static JointCapability Joint(Domain.Statistics.JointFigures joint, EffectiveFact study) => new(
        joint.Joint.Value,
        study.Id,
        study.At,
        joint.Count,
        joint.Mean,
        joint.StandardDeviation,
        joint.DeviationInterval.Lower,
        joint.DeviationInterval.Upper,
        joint.Scatter,
        joint.ScatterShare);

    private static QuantityValue? Quantity(EnteredQuantity? quantity) => quantity is { } q ? new() { Value = q.Value, Unit = q.Unit } : null;
}
