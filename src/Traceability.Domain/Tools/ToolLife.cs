using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Tools;

/// <summary>Where a tool stands in the life of its calibration.</summary>
public enum ToolCondition
{
    /// <summary>It needs no calibration, and no check of it has failed.</summary>
    NotRequired,

    /// <summary>It was never calibrated.</summary>
    NotCalibrated,

    /// <summary>Calibrated, left good, and the validity has not ended.</summary>
    Valid,

    /// <summary>Calibrated and left good, and the validity has ended: it is due.</summary>
    Due,

    /// <summary>The last calibration left it outside its limits, or a check failed since and no check of the same has passed.</summary>
    Failed,
}

/// <summary>A tool at one moment.</summary>
/// <param name="Condition">Where it stands.</param>
/// <param name="DueAt">When the calibration that counts ends or ended; null: it has no end, or there is none.</param>
/// <param name="Calibration">The last calibration by then; null: none.</param>
/// <param name="FailedBy">While failed: the calibration or check that says so.</param>
/// <param name="Withdrawal">The decision that took it out of use; null while it is in use.</param>
public sealed record ToolStanding(
    ToolCondition Condition, DateTimeOffset? DueAt, EffectiveFact? Calibration, EffectiveFact? FailedBy, EffectiveFact? Withdrawal)
{
    /// <summary>Whether it may be used, as far as its own life goes.</summary>
    public bool IsUsable => Withdrawal is null && Condition is ToolCondition.NotRequired or ToolCondition.Valid;
}

/// <summary>The life of a tool: calibrated, due, failed, taken out of use, put back.</summary>
public static class ToolLife
{
    /// <summary>How the tool stands at that time. Total; a tool that isn't defined stands as one that needs no calibration.</summary>
    public static ToolStanding At(Tool tool, DateTimeOffset at)
    {
        ArgumentNullException.ThrowIfNull(tool);
        var calibration = tool.CalibrationAt(at);
        var due = calibration is null ? null : tool.ValidUntil(calibration);
        var failed = FailedBy(tool, at);
        return new(Condition(tool, calibration, due, failed, at), due, calibration, failed, tool.WithdrawalAt(at));
    }

    /// <summary>The refusal of a decision on the tool's use, or null: record it.</summary>
    /// <param name="tool">The tool; null if it is not known.</param>
    /// <param name="decision">A withdrawal or reinstatement; any other fact passes.</param>
    public static Refusal? Check(Tool? tool, Fact decision)
    {
        ArgumentNullException.ThrowIfNull(decision);
        if (tool is null || decision is not (ToolWithdrawn or ToolReinstated))
        {
            return null;
        }

        var standing = At(tool, decision.At);
        return (decision, standing) switch
        {
            (ToolWithdrawn, { Withdrawal: not null }) =>
                Refusal.At("tool-already-withdrawn", RefusalKind.Contradiction, "/tool", $"Tool {tool.Number} is out of use already. Nothing needs to be done."),
            (ToolReinstated, { Withdrawal: null }) =>
                Refusal.At("tool-not-withdrawn", RefusalKind.Contradiction, "/tool", $"Tool {tool.Number} is in use: there is no withdrawal to take back."),
            (ToolReinstated, { Condition: ToolCondition.NotCalibrated or ToolCondition.Due or ToolCondition.Failed }) =>
                Refusal.At("tool-not-in-order", RefusalKind.Contradiction, "/tool", $"Tool {tool.Number} {Why(standing)}. Calibrate it and record that first; then put it back into use."),
            _ => null,
        };
    }

    private static string Why(ToolStanding standing) => standing.Condition switch
    {
        ToolCondition.NotCalibrated => "was never calibrated",
        ToolCondition.Due => "is due for calibration",
        _ => standing.FailedBy?.Fact is ToolChecked ? "failed its last check" : "was left outside its limits by its last calibration",
    };

    private static ToolCondition Condition(Tool tool, EffectiveFact? calibration, DateTimeOffset? due, EffectiveFact? failed, DateTimeOffset at)
    {
        if (failed is not null)
        {
            return ToolCondition.Failed;
        }

        if (tool.Definition is not { NeedsCalibration: true })
        {
            return ToolCondition.NotRequired;
        }

        return calibration is null ? ToolCondition.NotCalibrated
            : due <= at ? ToolCondition.Due
            : ToolCondition.Valid;
    }

    // A failed check stands until the same passes, or a calibration says what the tool is.
    private static EffectiveFact? FailedBy(Tool tool, DateTimeOffset at)
    {
        EffectiveFact? ofAll = null;
        List<(Code Setting, EffectiveFact Fact)>? ofOne = null;
        foreach (var fact in tool.Effective)
        {
            if (fact.At > at)
            {
                break;
            }

            switch (fact)
            {
                case { IsVoided: false, Fact: ToolCalibrated calibrated }:
                    ofAll = calibrated.LeftGood ? null : fact;
                    ofOne?.Clear();
                    break;
                case { IsVoided: false, Fact: ToolChecked check }:
                    Take(fact, check, ToolCheck.Of(check));
                    break;
            }
        }

        return ofAll ?? (ofOne is { Count: > 0 } ? ofOne[0].Fact : null);

        void Take(EffectiveFact fact, ToolChecked check, CheckVerdict verdict)
        {
            switch (verdict, check.Setting)
            {
                case (CheckVerdict.Failed, null):
                    ofAll ??= fact;
                    break;
                case (CheckVerdict.Failed, { } setting):
                    (ofOne ??= []).Add((setting, fact));
                    break;
                case (CheckVerdict.Passed, null):
                    // A check says nothing against a certificate.
                    ofAll = ofAll?.Fact is ToolChecked ? null : ofAll;
                    ofOne?.Clear();
                    break;
                case (CheckVerdict.Passed, { } setting):
                    ofOne?.RemoveAll(o => o.Setting == setting);
                    break;
            }
        }
    }
}
