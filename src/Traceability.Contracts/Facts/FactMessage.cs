using System.Text.Json.Serialization;

namespace Traceability.Contracts.Facts;

/// <summary>What a person, tool or terminal reports. Recorded once, never edited: to change it, report a <see cref="RecordCorrected"/>.</summary>
/// <remarks>Write it as a <see cref="FactMessage"/>, so that the JSON carries its type; read and write with <see cref="WireJson.Options"/>.</remarks>
[JsonPolymorphic(TypeDiscriminatorPropertyName = "type", UnknownDerivedTypeHandling = JsonUnknownDerivedTypeHandling.FailSerialization)]
[JsonDerivedType(typeof(UnitOpened), "unit-opened")]
[JsonDerivedType(typeof(StepStarted), "step-started")]
[JsonDerivedType(typeof(StepCompleted), "step-completed")]
[JsonDerivedType(typeof(ComponentInstalled), "component-installed")]
[JsonDerivedType(typeof(ComponentRemoved), "component-removed")]
[JsonDerivedType(typeof(UnitMovedToRevision), "unit-moved-to-revision")]
[JsonDerivedType(typeof(UnitHeld), "unit-held")]
[JsonDerivedType(typeof(UnitHoldLifted), "unit-hold-lifted")]
[JsonDerivedType(typeof(UnitReleased), "unit-released")]
[JsonDerivedType(typeof(UnitScrapped), "unit-scrapped")]
[JsonDerivedType(typeof(UnitShipped), "unit-shipped")]
[JsonDerivedType(typeof(UnitReturned), "unit-returned")]
[JsonDerivedType(typeof(NonconformanceReported), "nonconformance-reported")]
[JsonDerivedType(typeof(NonconformanceTakenUp), "nonconformance-taken-up")]
[JsonDerivedType(typeof(NonconformanceDisposed), "nonconformance-disposed")]
[JsonDerivedType(typeof(RecordCorrected), "record-corrected")]
[JsonDerivedType(typeof(RecordVoided), "record-voided")]
[JsonDerivedType(typeof(LotReceived), "lot-received")]
[JsonDerivedType(typeof(LotReleased), "lot-released")]
[JsonDerivedType(typeof(LotQuarantined), "lot-quarantined")]
[JsonDerivedType(typeof(LotExpirySet), "lot-expiry-set")]
[JsonDerivedType(typeof(LotMoved), "lot-moved")]
[JsonDerivedType(typeof(LotEmptied), "lot-emptied")]
[JsonDerivedType(typeof(ContainerOpened), "container-opened")]
[JsonDerivedType(typeof(ContainerEmptied), "container-emptied")]
[JsonDerivedType(typeof(LotSplit), "lot-split")]
[JsonDerivedType(typeof(LotMerged), "lot-merged")]
[JsonDerivedType(typeof(LotInspected), "lot-inspected")]
[JsonDerivedType(typeof(LotRecertified), "lot-recertified")]
[JsonDerivedType(typeof(StockCounted), "stock-counted")]
[JsonDerivedType(typeof(ToolDefined), "tool-defined")]
[JsonDerivedType(typeof(ToolCalibrated), "tool-calibrated")]
[JsonDerivedType(typeof(ToolSettingVerified), "tool-setting-verified")]
[JsonDerivedType(typeof(ToolChecked), "tool-checked")]
[JsonDerivedType(typeof(ToolStudied), "tool-studied")]
[JsonDerivedType(typeof(ToolWithdrawn), "tool-withdrawn")]
[JsonDerivedType(typeof(ToolReinstated), "tool-reinstated")]
[JsonDerivedType(typeof(PersonDefined), "person-defined")]
[JsonDerivedType(typeof(QualificationGranted), "qualification-granted")]
[JsonDerivedType(typeof(QualificationWithdrawn), "qualification-withdrawn")]
[JsonDerivedType(typeof(SiteDefined), "site-defined")]
[JsonDerivedType(typeof(StationDefined), "station-defined")]
[JsonDerivedType(typeof(ItemDefined), "item-defined")]
[JsonDerivedType(typeof(DefectCodeDefined), "defect-code-defined")]
[JsonDerivedType(typeof(RoutingDrafted), "routing-drafted")]
[JsonDerivedType(typeof(RoutingReleased), "routing-released")]
[JsonDerivedType(typeof(TemperatureRecorded), "temperature-recorded")]
[JsonDerivedType(typeof(RoutingApproved), "routing-approved")]
[JsonDerivedType(typeof(TrainingCompleted), "training-completed")]
[JsonDerivedType(typeof(ReplacementDeclared), "replacement-declared")]
[JsonDerivedType(typeof(FollowUpRecorded), "follow-up-recorded")]
[JsonDerivedType(typeof(ContainmentClosed), "containment-closed")]
[JsonDerivedType(typeof(ContainmentReopened), "containment-reopened")]
[JsonDerivedType(typeof(LateMembersAcknowledged), "late-members-acknowledged")]
[JsonDerivedType(typeof(LotMixed), "lot-mixed")]
[JsonDerivedType(typeof(BatchFormed), "batch-formed")]
[JsonDerivedType(typeof(BatchSplit), "batch-split")]
[JsonDerivedType(typeof(BatchStepStarted), "batch-step-started")]
[JsonDerivedType(typeof(BatchStepCompleted), "batch-step-completed")]
[JsonDerivedType(typeof(BatchEnded), "batch-ended")]
public abstract record FactMessage
{
    /// <summary>The sender's own id of this fact: a UUID, chosen once and sent again with every retry. Null only in a replacement.</summary>
    public Guid? FactId { get; init; }

    /// <summary>When it happened, by the terminal's clock, with its offset from UTC.</summary>
    public required DateTimeOffset OccurredAt { get; init; }

    /// <summary>The code of the station that it happened at; null for a fact that has no place.</summary>
    public string? Station { get; init; }

    /// <summary>The code of the person who did it; null where nobody is named.</summary>
    public string? Person { get; init; }
}
