using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Tools;

/// <summary>One tool as its facts tell.</summary>
/// <param name="Number">The tool's identity.</param>
/// <param name="Effective">The facts that count, ordered by when they happened.</param>
public sealed record Tool(ToolNumber Number, ImmutableArray<EffectiveFact> Effective)
{
    // Asked for at every use of the tool; nearly no tool was ever taken out of use.
    private readonly bool _wasWithdrawn = Effective.Any(f => f.Fact is ToolWithdrawn);

    /// <summary>The description that counts: the last one; null while the tool is not known.</summary>
    public ToolDefined? Definition { get; } = Effective.LastOrDefault(f => f is { IsVoided: false, Fact: ToolDefined })?.Fact as ToolDefined;

    /// <summary>Folds a tool's facts.</summary>
    public static Tool Of(ToolNumber number, ImmutableArray<RecordedFact> facts) => new(number, EffectiveFacts.Of(facts));

    /// <summary>The fact with this id, or null.</summary>
    public EffectiveFact? Find(Guid record)
    {
        foreach (var fact in Effective)
        {
            if (fact.Id == record)
            {
                return fact;
            }
        }

        return null;
    }

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

    /// <summary>The end of a calibration's validity: as it says, else by the tool's interval; null: it has none.</summary>
    public DateTimeOffset? ValidUntil(EffectiveFact calibration)
    {
        ArgumentNullException.ThrowIfNull(calibration);
        return calibration.Fact is not ToolCalibrated calibrated ? null
            : calibrated.ValidUntil ?? (Definition?.CalibrationInterval is { } interval ? Instant.Shift(calibration.At, interval) : null);
    }

    /// <summary>The decision that took the tool out of use and holds at that time; null if it is in use.</summary>
    public EffectiveFact? WithdrawalAt(DateTimeOffset at)
    {
        for (var i = Effective.Length - 1; _wasWithdrawn && i >= 0; i--)
        {
            if (Effective[i] is { IsVoided: false, Fact: ToolWithdrawn or ToolReinstated } fact && fact.At <= at)
            {
                return fact.Fact is ToolWithdrawn ? fact : null;
            }
        }

        return null;
    }
}
