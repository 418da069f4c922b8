using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Tools;

/// <summary>A tool was described, first or anew.</summary>
/// <param name="Tool">The tool.</param>
/// <param name="ToolClass">Its class: what a step asks for.</param>
/// <param name="Description">What it is, in words.</param>
/// <param name="NeedsCalibration">Whether it may be used only while calibrated.</param>
public sealed record ToolDefined(ToolNumber Tool, Code ToolClass, string Description, bool NeedsCalibration) : Fact
{
    /// <summary>How long a calibration holds that doesn't say until when; null: it holds until the next one.</summary>
    public TimeSpan? CalibrationInterval { get; init; }
}

/// <summary>A tool was calibrated.</summary>
/// <param name="Tool">The tool.</param>
/// <param name="FoundGood">Whether it was within its limits as found, before any adjustment.</param>
/// <param name="LeftGood">Whether it was within its limits as left.</param>
/// <param name="ValidUntil">The end of validity, if it was left good.</param>
/// <param name="Certificate">The certificate's number.</param>
public sealed record ToolCalibrated(
    ToolNumber Tool, bool FoundGood, bool LeftGood, DateTimeOffset? ValidUntil, string? Certificate) : Fact
{
    /// <summary>What was measured, as found and as left; empty where only the result was reported.</summary>
    public ImmutableArray<CalibrationPoint> Points { get; init; } = [];
}

/// <summary>One point of a calibration.</summary>
/// <param name="Setting">The clutch or program setting that it was taken at; null for a tool without settings.</param>
/// <param name="Nominal">What the tool should have given or shown.</param>
/// <param name="AsFound">What it gave before any adjustment; null: not measured.</param>
/// <param name="AsLeft">What it gave afterwards; null: not measured.</param>
/// <param name="Uncertainty">The expanded uncertainty of the measurement, coverage factor 2 (JCGM 100:2008, 6.2); null: not stated.</param>
public sealed record CalibrationPoint(
    Code? Setting, EnteredQuantity Nominal, EnteredQuantity? AsFound, EnteredQuantity? AsLeft, EnteredQuantity? Uncertainty);

/// <summary>The torque that a tool gives at a setting was measured.</summary>
/// <param name="Tool">The tool.</param>
/// <param name="Setting">The clutch or program setting.</param>
/// <param name="Torque">The torque measured.</param>
/// <param name="ValidUntil">Until when it may be relied on; null: until it is measured again.</param>
public sealed record ToolSettingVerified(ToolNumber Tool, Code Setting, EnteredQuantity Torque, DateTimeOffset? ValidUntil) : Fact
{
    /// <summary>The expanded uncertainty of that torque, coverage factor 2 (JCGM 100:2008, 6.2); null: not stated, and none is allowed for.</summary>
    public EnteredQuantity? Uncertainty { get; init; }
}

/// <summary>A tool was tried against something known, between calibrations: the daily check.</summary>
/// <param name="Tool">The tool.</param>
/// <param name="Setting">The setting that was tried; null: the tool as a whole.</param>
/// <param name="Readings">What it gave or showed; at least one.</param>
/// <param name="Lower">The least that is allowed; null: none.</param>
/// <param name="Upper">The most that is allowed; null: none. Without any limit the check is a record for the drift chart only.</param>
/// <param name="Uncertainty">The expanded uncertainty of a reading, coverage factor 2; null: not stated, and none is allowed for.</param>
public sealed record ToolChecked(
    ToolNumber Tool,
    Code? Setting,
    ImmutableArray<EnteredQuantity> Readings,
    EnteredQuantity? Lower,
    EnteredQuantity? Upper,
    EnteredQuantity? Uncertainty) : Fact;

/// <summary>How a torque tool scatters at a setting was studied on one joint: one series of readings.</summary>
/// <param name="Tool">The tool.</param>
/// <param name="Setting">The setting: one level of torque.</param>
/// <param name="Joint">The test joint, such as HARD or SOFT.</param>
/// <param name="Readings">The torques, in the order taken; at least two.</param>
public sealed record ToolStudied(ToolNumber Tool, Code Setting, Code Joint, ImmutableArray<EnteredQuantity> Readings) : Fact;

/// <summary>A person decided that the tool must not be used from here on.</summary>
public sealed record ToolWithdrawn(ToolNumber Tool, string Reason) : Fact;

/// <summary>A person decided that the tool may be used again.</summary>
public sealed record ToolReinstated(ToolNumber Tool, string Reason) : Fact;
