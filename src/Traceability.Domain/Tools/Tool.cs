using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Tools;

/// <summary>One tool as its facts tell.</summary>
/// <param name="Number">The tool's identity.</param>
/// <param name="Effective">The facts that count, ordered by when they happened.</param>
public sealed record Tool(ToolNumber Number, ImmutableArray<EffectiveFact> Effective)
{
    /// <summary>The description that counts: the last one; null while the tool is not known.</summary>
    public ToolDefined? Definition => Standing().Select(f => f.Fact).OfType<ToolDefined>().LastOrDefault();

    /// <summary>Folds a tool's facts.</summary>
    public static Tool Of(ToolNumber number, ImmutableArray<RecordedFact> facts) => new(number, EffectiveFacts.Of(facts));

    /// <summary>The last calibration at or before that time; null if there is none.</summary>
    public EffectiveFact? CalibrationAt(DateTimeOffset at) =>
        Standing().LastOrDefault(f => f.Fact is ToolCalibrated && f.At <= at);

    /// <summary>The first calibration after that time; null if there is none yet.</summary>
    public EffectiveFact? CalibrationAfter(DateTimeOffset at) =>
        Standing().FirstOrDefault(f => f.Fact is ToolCalibrated && f.At > at);

    /// <summary>The last measurement of the torque at a setting, at or before that time; null if there is none.</summary>
    public ToolSettingVerified? VerifiedAt(Code setting, DateTimeOffset at) =>
        Standing().LastOrDefault(f => f.Fact is ToolSettingVerified v && v.Setting == setting && f.At <= at)?.Fact as ToolSettingVerified;

    private IEnumerable<EffectiveFact> Standing() => Effective.Where(f => !f.IsVoided);
}
