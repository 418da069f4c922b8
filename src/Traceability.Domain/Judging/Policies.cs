using System.Collections.Frozen;
using Traceability.Domain.Routings;

namespace Traceability.Domain.Judging;

/// <summary>What happens by default when a rule is broken. A routing's own <see cref="RulePolicy"/> takes its place.</summary>
/// <remarks>
/// A finding counts as a defect when it shows that the work is wrong. It doesn't when evidence is missing or unclear:
/// that says nothing about the unit, and would make a yield depend on the reliability of scanners.
/// </remarks>
public static class Policies
{
    private static readonly RulePolicy StopDefect = new(Enforcement.Stop, CountsAsDefect: true);
    private static readonly RulePolicy StopOnly = new(Enforcement.Stop, CountsAsDefect: false);
    private static readonly RulePolicy FlagOnly = new(Enforcement.Flag, CountsAsDefect: false);

    private static readonly FrozenDictionary<string, RulePolicy> Defaults = new Dictionary<string, RulePolicy>(StringComparer.Ordinal)
    {
        // Order. Doing things in another order is a matter of discipline, not yet a fault of the unit; a bond over
        // something unproven can't be opened again, so it is.
        [FindingKinds.PrerequisiteNotPassed] = StopOnly,
        [FindingKinds.HiddenStepNotProven] = StopDefect,
        [FindingKinds.StepNotInRevision] = StopOnly,
        [FindingKinds.StepNotForUnit] = StopOnly,
        [FindingKinds.NoEffectiveRevision] = StopOnly,
        [FindingKinds.StationNotForStep] = StopOnly,

        // Material. The wrong or spoilt material is in the unit: a defect. A missing scan is not, nor
        // is a missing inspection: it may turn out good.
        [FindingKinds.MaterialNotRecorded] = FlagOnly,
        [FindingKinds.ContainerNotRecorded] = FlagOnly,
        [FindingKinds.MaterialNotRequired] = FlagOnly,
        [FindingKinds.MaterialWrongItem] = StopDefect,
        [FindingKinds.LotAmbiguous] = FlagOnly,
        [FindingKinds.LotUnknown] = StopOnly,
        [FindingKinds.LotNotReleased] = StopDefect,
        [FindingKinds.LotNotInspected] = StopOnly,
        [FindingKinds.LotExpired] = StopDefect,
        [FindingKinds.ContainerNotOpened] = FlagOnly,
        [FindingKinds.ContainerPastLife] = StopDefect,
        [FindingKinds.ContainerLifeUndetermined] = StopOnly,
        [FindingKinds.PotLifeExceeded] = StopDefect,
        [FindingKinds.PotLifeUndetermined] = StopOnly,
        [FindingKinds.MixPartWrong] = StopDefect,
        [FindingKinds.MixRatioOutOfLimits] = StopDefect,
        [FindingKinds.MixRatioNotRecorded] = FlagOnly,
        [FindingKinds.QuantityOutOfLimits] = StopDefect,
        [FindingKinds.QuantityNotRecorded] = FlagOnly,

        // Components. As with material; two records that put one component into two places contradict each other, and
        // it isn't known which is wrong.
        [FindingKinds.ComponentNotRecorded] = FlagOnly,
        [FindingKinds.ComponentWrongItem] = StopDefect,
        [FindingKinds.ComponentUnknown] = StopOnly,
        [FindingKinds.ComponentNotReleased] = StopDefect,
        [FindingKinds.ComponentElsewhere] = StopOnly,
        [FindingKinds.ComponentHeld] = StopDefect,
        [FindingKinds.ComponentNotOnSite] = StopOnly,
        [FindingKinds.ComponentNotRequired] = FlagOnly,
        [FindingKinds.ComponentNotRemoved] = FlagOnly,
        [FindingKinds.ComponentRemovedNotInstalled] = FlagOnly,

        // Tools and people. The wrong class or setting gives the wrong joint: a defect. A calibration that ran out or
        // a tool found out later makes the joint doubtful, which is what a scope is for.
        [FindingKinds.ToolNotRecorded] = FlagOnly,
        [FindingKinds.ToolUnknown] = StopOnly,
        [FindingKinds.ToolWrongClass] = StopDefect,
        [FindingKinds.ToolNotCalibrated] = StopOnly,
        [FindingKinds.ToolFoundOut] = FlagOnly,
        [FindingKinds.ToolCheckFailed] = StopOnly,
        [FindingKinds.ToolWithdrawn] = StopOnly,
        [FindingKinds.ToolSettingWrong] = StopDefect,
        [FindingKinds.ToolSettingNotVerified] = StopOnly,
        [FindingKinds.ToolTorqueOutOfLimits] = StopDefect,
        [FindingKinds.ToolTorqueInGuardBand] = StopOnly,
        [FindingKinds.PersonNotRecorded] = FlagOnly,
        [FindingKinds.PersonNotQualified] = StopOnly,
        [FindingKinds.SupervisorNotQualified] = StopOnly,

        // Characteristics. A required value that isn't there has not been shown to be within its limits, and the step
        // is there to show it: its attempt has not passed. A value in the guard band is neither proven good nor bad.
        [FindingKinds.CharacteristicNotRecorded] = StopDefect,
        [FindingKinds.CharacteristicNotRequired] = FlagOnly,
        [FindingKinds.ValueOutOfLimits] = StopDefect,
        [FindingKinds.ValueInGuardBand] = StopOnly,
        [FindingKinds.ValueWrongDimension] = StopDefect,
        [FindingKinds.CheckFailed] = StopDefect,
        [FindingKinds.LimitNotDerivable] = StopOnly,
        [FindingKinds.DefectReported] = StopDefect,
        [FindingKinds.DefectUnknown] = FlagOnly,

        // Intervals, clocks, records.
        [FindingKinds.IntervalTooShort] = StopDefect,
        [FindingKinds.IntervalTooLong] = StopDefect,
        [FindingKinds.IntervalUndetermined] = StopOnly,
        [FindingKinds.IntervalStartNotRecorded] = StopOnly,
        [FindingKinds.ClockDoubtful] = FlagOnly,
        [FindingKinds.RecordUnreadable] = StopOnly,
        [FindingKinds.ReferenceUnreadable] = StopOnly,
        [FindingKinds.UnitNotJudged] = StopOnly,
        [FindingKinds.UnitOpenedTwice] = FlagOnly,
        [FindingKinds.BatchOverdrawn] = StopOnly,
        [FindingKinds.WorkedOnWhileHeld] = StopOnly,
        [FindingKinds.WorkedOnAfterEnd] = StopOnly,

        // Release, shipment, return. Who asks first is refused. None tells that work was wrong; what does has a finding of its own.
        [FindingKinds.ReleasedIncomplete] = StopOnly,
        [FindingKinds.ReleasedOnHold] = StopOnly,
        [FindingKinds.ReleasedWhileShipped] = FlagOnly,
        [FindingKinds.ShippedUnreleased] = StopOnly,
        [FindingKinds.ShippedOnHold] = StopOnly,
        [FindingKinds.ShippedTwice] = StopOnly,
        [FindingKinds.ReturnedNotShipped] = FlagOnly,
        [FindingKinds.ActedOnAfterScrap] = StopOnly,
    }.ToFrozenDictionary(StringComparer.Ordinal);

    /// <summary>The default for an interval rule: stop, a defect when broken.</summary>
    public static RulePolicy Interval => StopDefect;

    /// <summary>The kinds that have a default.</summary>
    public static ImmutableArray<string> Kinds => Defaults.Keys;

    /// <summary>The policy of a kind of finding, unless the routing says otherwise.</summary>
    public static RulePolicy For(string kind) => Defaults[kind];
}
