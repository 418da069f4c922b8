using Traceability.Contracts.Facts;

namespace Traceability.Contracts.Tools;

/// <summary>A tool as its records tell at the moment of asking.</summary>
/// <param name="Tool">Tool number.</param>
/// <param name="ToolClass">Its class.</param>
/// <param name="Description">What it is, in words.</param>
/// <param name="AsOf">The moment of asking, which everything here is judged by.</param>
/// <param name="Condition">
/// not-required (it needs no calibration), not-calibrated (never), valid, due (the validity has ended), failed (left outside its limits
/// by the last calibration, or a check failed since and the same has not passed).
/// </param>
/// <param name="DueAt">When the calibration that counts ends or ended; null: no end, or none.</param>
/// <param name="CalibratedAt">The last calibration; null: none.</param>
/// <param name="Calibration">Id of its record.</param>
/// <param name="FailedAt">While failed: when that was found.</param>
/// <param name="FailedBy">While failed: id of the record that says so.</param>
/// <param name="WithdrawnAt">Since when it is out of use; null while it is in use.</param>
/// <param name="WithdrawnBecause">Why, in words.</param>
/// <param name="Settings">Its settings, in the order of their codes.</param>
/// <param name="SuspectWindows">When it is not shown to have been within its limits, because it was found outside them; by setting, oldest first.</param>
/// <param name="UnreadableRecords">Number of the tool's stored records that can't be read: if not zero, what is said here may be wrong.</param>
public sealed record ToolLifeView(
    string Tool,
    string ToolClass,
    string Description,
    DateTimeOffset AsOf,
    string Condition,
    DateTimeOffset? DueAt,
    DateTimeOffset? CalibratedAt,
    Guid? Calibration,
    DateTimeOffset? FailedAt,
    Guid? FailedBy,
    DateTimeOffset? WithdrawnAt,
    string? WithdrawnBecause,
    IReadOnlyList<ToolSettingView> Settings,
    IReadOnlyList<SuspectWindowView> SuspectWindows,
    int UnreadableRecords);

/// <summary>One setting of a tool.</summary>
/// <param name="Setting">The clutch or program setting.</param>
/// <param name="Torque">The torque measured last; null: never. A setting's number is not a torque.</param>
/// <param name="Uncertainty">Its expanded uncertainty (coverage factor 2); null: not stated.</param>
/// <param name="VerifiedAt">When it was measured.</param>
/// <param name="ValidUntil">Until when it may be relied on; null: until it is measured again.</param>
/// <param name="IsVerified">Whether it may be relied on at the moment of asking.</param>
/// <param name="CheckedAt">The last check of this setting; null: none.</param>
/// <param name="LastCheck">What it said: passed, failed, doubtful (neither is shown), not-held (it had no limits).</param>
public sealed record ToolSettingView(
    string Setting,
    QuantityValue? Torque,
    QuantityValue? Uncertainty,
    DateTimeOffset? VerifiedAt,
    DateTimeOffset? ValidUntil,
    bool IsVerified,
    DateTimeOffset? CheckedAt,
    string? LastCheck);

/// <summary>A time over which it is not shown that a tool was within its limits.</summary>
/// <param name="AppliesTo">setting (the one named), not-recorded (uses whose setting nobody recorded), others (settings that no record of the tool names).</param>
/// <param name="Setting">The setting, for the first of these.</param>
/// <param name="From">The last calibration or passed check before, included; null: there is none.</param>
/// <param name="Since">Id of its record.</param>
/// <param name="FoundAt">When the tool was found outside its limits.</param>
/// <param name="FoundBy">Id of the calibration or check that found it.</param>
/// <param name="To">When it was shown good again or calibrated anew, excluded; null: not yet.</param>
/// <param name="EndedBy">Id of that record.</param>
public sealed record SuspectWindowView(
    string AppliesTo, string? Setting, DateTimeOffset? From, Guid? Since, DateTimeOffset FoundAt, Guid FoundBy, DateTimeOffset? To, Guid? EndedBy);

/// <summary>What capability studies tell of a tool, by setting.</summary>
/// <param name="Tool">Tool number.</param>
/// <param name="Settings">Settings with a study, in the order of their codes.</param>
/// <param name="UnreadableRecords">Number of the tool's stored records that can't be read.</param>
public sealed record ToolCapabilityView(string Tool, IReadOnlyList<SettingCapability> Settings, int UnreadableRecords);

/// <summary>The capability of a tool at one setting, in the manner of ISO 5393 (formulas from memory; no claim of conformity).</summary>
/// <param name="Setting">The setting.</param>
/// <param name="Unit">UCUM code of the figures.</param>
/// <param name="Joints">By test joint; of several studies on one joint the last counts.</param>
/// <param name="CombinedMean">The middle between the highest mean + 3 s and the lowest mean − 3 s.</param>
/// <param name="CombinedScatter">The distance between those two.</param>
/// <param name="CombinedShare">The combined scatter as a share of the combined mean, a bare number; null where that is not positive.</param>
/// <param name="MeanShift">The difference between the highest and the lowest mean.</param>
/// <param name="MeanShiftShare">The shift as a share of the combined mean; null where that is not positive.</param>
/// <param name="IsFull">Two joints at least, 25 readings at least on each.</param>
public sealed record SettingCapability(
    string Setting,
    string Unit,
    IReadOnlyList<JointCapability> Joints,
    double CombinedMean,
    double CombinedScatter,
    double? CombinedShare,
    double MeanShift,
    double? MeanShiftShare,
    bool IsFull);

/// <summary>The scatter on one test joint.</summary>
/// <param name="Joint">The joint.</param>
/// <param name="Record">Id of the study.</param>
/// <param name="At">When it was made.</param>
/// <param name="Count">How many readings.</param>
/// <param name="Mean">Their mean.</param>
/// <param name="StandardDeviation">Their standard deviation s, divisor n − 1.</param>
/// <param name="DeviationLower">Lower end of its 95 % interval (chi-square, for normal torques).</param>
/// <param name="DeviationUpper">Upper end.</param>
/// <param name="Scatter">6 s.</param>
/// <param name="ScatterShare">6 s as a share of the mean, a bare number; null where the mean is not positive.</param>
public sealed record JointCapability(
    string Joint,
    Guid Record,
    DateTimeOffset At,
    int Count,
    double Mean,
    double StandardDeviation,
    double DeviationLower,
    double DeviationUpper,
    double Scatter,
    double? ScatterShare);

/// <summary>The checks of a tool at one setting as a chart. A signal on it is a question: it makes nothing suspect.</summary>
/// <param name="Tool">Tool number.</param>
/// <param name="Setting">The setting; null: checks of the tool as a whole.</param>
/// <param name="Unit">UCUM code of the figures; null without checks.</param>
/// <param name="BaselineCount">The limits come from this many checks, the first of the period.</param>
/// <param name="Centre">The mean of those; null for fewer than two.</param>
/// <param name="Lower">Lower limit of values: centre − 3 sigma, sigma from the moving ranges.</param>
/// <param name="Upper">Upper limit.</param>
/// <param name="RangeUpper">Upper limit of moving ranges.</param>
/// <param name="AverageLower">Lower limit of the weighted moving average (weight 0.3).</param>
/// <param name="AverageUpper">Upper limit.</param>
/// <param name="Points">The checks, oldest first.</param>
/// <param name="UnreadableRecords">Number of the tool's stored records that can't be read.</param>
public sealed record ToolDriftView(
    string Tool,
    string? Setting,
    string? Unit,
    int BaselineCount,
    double? Centre,
    double? Lower,
    double? Upper,
    double? RangeUpper,
    double? AverageLower,
    double? AverageUpper,
    IReadOnlyList<DriftPointView> Points,
    int UnreadableRecords);

/// <summary>One check.</summary>
/// <param name="Record">Id of the record.</param>
/// <param name="At">When.</param>
/// <param name="Verdict">Against its own limits: passed, failed, doubtful, not-held.</param>
/// <param name="Value">The mean of its readings.</param>
/// <param name="MovingRange">The distance from the value before; null at the first.</param>
/// <param name="Average">The weighted moving average; null without limits.</param>
/// <param name="IsOut">The value is outside the chart's limits.</param>
/// <param name="IsDrifting">The average is outside its limits.</param>
public sealed record DriftPointView(
    Guid Record, DateTimeOffset At, string Verdict, double Value, double? MovingRange, double? Average, bool IsOut, bool IsDrifting);

/// <summary>What was done with a tool.</summary>
/// <param name="AsOf">The moment of asking.</param>
/// <param name="Uses">The uses of this page, newest first.</param>
/// <param name="After">Give this as "after" to get the next page; null on the last.</param>
/// <param name="Completeness">What may be missing from it.</param>
public sealed record ToolUsePage(DateTimeOffset AsOf, IReadOnlyList<ToolUseView> Uses, string? After, Completeness Completeness);

/// <summary>One step that was done with a tool, and where its unit is now.</summary>
/// <param name="Item">The unit's item.</param>
/// <param name="Serial">Its serial.</param>
/// <param name="Step">The step.</param>
/// <param name="Attempt">The attempt.</param>
/// <param name="Record">Id of the record.</param>
/// <param name="At">When the step was completed.</param>
/// <param name="Setting">The setting; null: not recorded.</param>
/// <param name="Requirement">The requirement that it served; null: none.</param>
/// <param name="Station">Where.</param>
/// <param name="IsSuspect">Whether the use lies in a suspect window.</param>
/// <param name="Place">Where the unit is: in-process, on-hold, in-stock, shipped, returned, scrapped.</param>
/// <param name="PlaceStep">While in process: at which step.</param>
/// <param name="Consignee">While shipped: to whom.</param>
public sealed record ToolUseView(
    string Item,
    string Serial,
    string Step,
    int Attempt,
    Guid Record,
    DateTimeOffset At,
    string? Setting,
    string? Requirement,
    string? Station,
    bool IsSuspect,
    string Place,
    string? PlaceStep,
    string? Consignee);
