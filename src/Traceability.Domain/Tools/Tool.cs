using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Tools;

/// <summary>One tool as its facts tell.</summary>
/// <param name="Number">The tool's identity.</param>
/// <param name="Effective">The facts that count, ordered by when they happened.</param>
public sealed record Tool(ToolNumber Number, ImmutableArray<EffectiveFact> Effective)
{
    /// <summary>The description that counts: the last one; null while the tool is not known.</summary>
    public ToolDefined? Definition
    {
        get
        {
            for (var i = Effective.Length - 1; i >= 0; i--)
            {
                if (Effective[i] is { IsVoided: false, Fact: ToolDefined defined })
                {
                    return defined;
                }
            }

            return null;
        }
    }

    /// <summary>Folds a tool's facts.</summary>
    public static Tool Of(ToolNumber number, ImmutableArray<RecordedFact> facts) => new(number, EffectiveFacts.Of(facts));

    /// <summary>The last calibration at or before that time; null if there is none.</summary>
    public EffectiveFact? CalibrationAt(DateTimeOffset at)
    {
        for (var i = Effective.Length - 1; i >= 0; i--)
        {
            if (Effective[i] is { IsVoided: false, Fact: ToolCalibrated } fact && fact.At <= at)
            {
                return fact;
            }
        }

        return null;
    }

    /// <summary>The first calibration after that time; null if there is none yet.</summary>
    public EffectiveFact? CalibrationAfter(DateTimeOffset at)
    {
        foreach (var fact in Effective)
        {
            if (fact is { IsVoided: false, Fact: ToolCalibrated } && fact.At > at)
            {
                return fact;
            }
        }

        return null;
    }

    /// <summary>The last measurement of the torque at a setting, at or before that time; null if there is none.</summary>
    public ToolSettingVerified? VerifiedAt(Code setting, DateTimeOffset at)
    {
        for (var i = Effective.Length - 1; i >= 0; i--)
        {
            if (Effective[i] is { IsVoided: false, Fact: ToolSettingVerified verified } fact && verified.Setting == setting && fact.At <= at)
            {
                return verified;
            }
        }

        return null;
    }
}
