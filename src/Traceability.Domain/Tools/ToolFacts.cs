using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Tools;

/// <summary>A tool was described, first or anew.</summary>
/// <param name="Tool">The tool.</param>
/// <param name="ToolClass">Its class: what a step asks for.</param>
/// <param name="Description">What it is, in words.</param>
/// <param name="NeedsCalibration">Whether it may be used only while calibrated.</param>
public sealed record ToolDefined(ToolNumber Tool, Code ToolClass, string Description, bool NeedsCalibration) : Fact;

/// <summary>A tool was calibrated.</summary>
/// <param name="Tool">The tool.</param>
/// <param name="FoundGood">Whether it was within its limits as found, before any adjustment.</param>
/// <param name="LeftGood">Whether it was within its limits as left.</param>
/// <param name="ValidUntil">The end of validity, if it was left good.</param>
/// <param name="Certificate">The certificate's number.</param>
public sealed record ToolCalibrated(
    ToolNumber Tool, bool FoundGood, bool LeftGood, DateTimeOffset? ValidUntil, string? Certificate) : Fact;

/// <summary>The torque that a tool gives at a setting was measured.</summary>
/// <param name="Tool">The tool.</param>
/// <param name="Setting">The clutch or program setting.</param>
/// <param name="Torque">The torque measured.</param>
/// <param name="ValidUntil">Until when it may be relied on; null: until it is measured again.</param>
public sealed record ToolSettingVerified(ToolNumber Tool, Code Setting, EnteredQuantity Torque, DateTimeOffset? ValidUntil) : Fact;
