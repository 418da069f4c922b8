namespace Traceability.Domain.Judging;

/// <summary>The stable codes of findings, with what each says. Listed in contracts/ and in the reference.</summary>
public static class FindingKinds
{
    // Order and revision
    public const string PrerequisiteNotPassed = "prerequisite-not-passed";
    public const string HiddenStepNotProven = "hidden-step-not-proven";
    public const string StepNotInRevision = "step-not-in-revision";
    public const string StepNotForUnit = "step-not-for-unit";
    public const string NoEffectiveRevision = "no-effective-revision";
    public const string StationNotForStep = "station-not-for-step";

    // Material
    public const string MaterialNotRecorded = "material-not-recorded";
    public const string ContainerNotRecorded = "container-not-recorded";
    public const string MaterialNotRequired = "material-not-required";
    public const string MaterialWrongItem = "material-wrong-item";
    public const string LotAmbiguous = "lot-ambiguous";
    public const string LotUnknown = "lot-unknown";
    public const string LotNotReleased = "lot-not-released";
    public const string LotNotInspected = "lot-not-inspected";
    public const string LotExpired = "lot-expired";
    public const string ContainerNotOpened = "container-not-opened";
    public const string ContainerPastLife = "container-past-life";
    public const string ContainerLifeUndetermined = "container-life-undetermined";
    public const string PotLifeExceeded = "pot-life-exceeded";
    public const string PotLifeUndetermined = "pot-life-undetermined";
    public const string MixPartWrong = "mix-part-wrong";
    public const string MixRatioOutOfLimits = "mix-ratio-out-of-limits";
    public const string MixRatioNotRecorded = "mix-ratio-not-recorded";
    public const string QuantityOutOfLimits = "quantity-out-of-limits";
    public const string QuantityNotRecorded = "quantity-not-recorded";

    // Components
    public const string ComponentNotRecorded = "component-not-recorded";
    public const string ComponentWrongItem = "component-wrong-item";
    public const string ComponentUnknown = "component-unknown";
    public const string ComponentNotReleased = "component-not-released";
    public const string ComponentElsewhere = "component-elsewhere";
    public const string ComponentHeld = "component-held";
    public const string ComponentNotOnSite = "component-not-on-site";
    public const string ComponentNotRequired = "component-not-required";
    public const string ComponentNotRemoved = "component-not-removed";
    public const string ComponentRemovedNotInstalled = "component-removed-not-installed";

    // Tools and people
    public const string ToolNotRecorded = "tool-not-recorded";
    public const string ToolUnknown = "tool-unknown";
    public const string ToolWrongClass = "tool-wrong-class";
    public const string ToolNotCalibrated = "tool-not-calibrated";
    public const string ToolFoundOut = "tool-found-out";
    public const string ToolCheckFailed = "tool-check-failed";
    public const string ToolWithdrawn = "tool-withdrawn";
    public const string ToolSettingWrong = "tool-setting-wrong";
    public const string ToolSettingNotVerified = "tool-setting-not-verified";
    public const string ToolTorqueOutOfLimits = "tool-torque-out-of-limits";
    public const string ToolTorqueInGuardBand = "tool-torque-in-guard-band";
    public const string PersonNotRecorded = "person-not-recorded";
    public const string PersonNotQualified = "person-not-qualified";
    public const string SupervisorNotQualified = "supervisor-not-qualified";

    // Characteristics and defects
    public const string CharacteristicNotRecorded = "characteristic-not-recorded";
    public const string CharacteristicNotRequired = "characteristic-not-required";
    public const string ValueOutOfLimits = "value-out-of-limits";
    public const string ValueInGuardBand = "value-in-guard-band";
    public const string ValueWrongDimension = "value-wrong-dimension";
    public const string CheckFailed = "check-failed";
    public const string LimitNotDerivable = "limit-not-derivable";
    public const string DefectReported = "defect-reported";
    public const string DefectUnknown = "defect-unknown";

    // Intervals, clocks, records
    public const string IntervalTooShort = "interval-too-short";
    public const string IntervalTooLong = "interval-too-long";
    public const string IntervalUndetermined = "interval-undetermined";
    public const string IntervalStartNotRecorded = "interval-start-not-recorded";
    public const string ClockDoubtful = "clock-doubtful";
    public const string RecordUnreadable = "record-unreadable";
    public const string ReferenceUnreadable = "reference-unreadable";
    public const string UnitNotJudged = "unit-not-judged";
    public const string UnitOpenedTwice = "unit-opened-twice";
    public const string BatchOverdrawn = "batch-overdrawn";
    public const string WorkedOnWhileHeld = "worked-on-while-held";
    public const string WorkedOnAfterEnd = "worked-on-after-end";

    // Release, shipment, return
    public const string ReleasedIncomplete = "released-incomplete";
    public const string ReleasedOnHold = "released-on-hold";
    public const string ReleasedWhileShipped = "released-while-shipped";
    public const string ShippedUnreleased = "shipped-unreleased";
    public const string ShippedOnHold = "shipped-on-hold";
    public const string ShippedTwice = "shipped-twice";
    public const string ReturnedNotShipped = "returned-not-shipped";
    public const string ActedOnAfterScrap = "acted-on-after-scrap";
}
