using System.Collections.Frozen;
using Traceability.Domain.Batches;
using Traceability.Domain.Containments;
using Traceability.Domain.Cure;
using Traceability.Domain.Facts;
using Traceability.Domain.Items;
using Traceability.Domain.Lots;
using Traceability.Domain.Nonconformances;
using Traceability.Domain.People;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;
using Traceability.Domain.Sites;
using Traceability.Domain.Tools;

namespace Traceability.Service.Storage;

/// <summary>The names under which facts are stored. A name is never changed and never used again: events of every age carry it.</summary>
public static class EventNames
{
    /// <summary>Every type of stored event with its name.</summary>
    public static ImmutableArray<(Type Type, string Name)> All { get; } =
    [
        (typeof(UnitOpened), "unit_opened"),
        (typeof(StepStarted), "step_started"),
        (typeof(StepCompleted), "step_completed"),
        (typeof(ComponentInstalled), "component_installed"),
        (typeof(ComponentRemoved), "component_removed"),
        (typeof(UnitMovedToRevision), "unit_moved_to_revision"),
        (typeof(UnitHeld), "unit_held"),
        (typeof(UnitHoldLifted), "unit_hold_lifted"),
        (typeof(UnitReleased), "unit_released"),
        (typeof(UnitScrapped), "unit_scrapped"),
        (typeof(UnitShipped), "unit_shipped"),
        (typeof(UnitReturned), "unit_returned"),
        (typeof(NonconformanceReported), "nonconformance_reported"),
        (typeof(NonconformanceTakenUp), "nonconformance_taken_up"),
        (typeof(NonconformanceDisposed), "nonconformance_disposed"),
        (typeof(RecordCorrected), "record_corrected"),
        (typeof(RecordVoided), "record_voided"),
        (typeof(LotReceived), "lot_received"),
        (typeof(LotReleased), "lot_released"),
        (typeof(LotQuarantined), "lot_quarantined"),
        (typeof(LotExpirySet), "lot_expiry_set"),
        (typeof(LotMoved), "lot_moved"),
        (typeof(LotEmptied), "lot_emptied"),
        (typeof(ContainerOpened), "container_opened"),
        (typeof(ContainerEmptied), "container_emptied"),
        (typeof(LotSplit), "lot_split"),
        (typeof(LotMerged), "lot_merged"),
        (typeof(LotInspected), "lot_inspected"),
        (typeof(LotRecertified), "lot_recertified"),
        (typeof(StockCounted), "stock_counted"),
        (typeof(ToolDefined), "tool_defined"),
        (typeof(ToolCalibrated), "tool_calibrated"),
        (typeof(ToolSettingVerified), "tool_setting_verified"),
        (typeof(ToolChecked), "tool_checked"),
        (typeof(ToolStudied), "tool_studied"),
        (typeof(ToolWithdrawn), "tool_withdrawn"),
        (typeof(ToolReinstated), "tool_reinstated"),
        (typeof(PersonDefined), "person_defined"),
        (typeof(QualificationGranted), "qualification_granted"),
        (typeof(QualificationWithdrawn), "qualification_withdrawn"),
        (typeof(SiteDefined), "site_defined"),
        (typeof(StationDefined), "station_defined"),
        (typeof(ItemDefined), "item_defined"),
        (typeof(DefectCodeDefined), "defect_code_defined"),
        (typeof(RoutingDrafted), "routing_drafted"),
        (typeof(RoutingReleased), "routing_released"),
        (typeof(TemperatureRecorded), "temperature_recorded"),
        (typeof(RoutingApproved), "routing_approved"),
        (typeof(TrainingCompleted), "training_completed"),
        (typeof(ReplacementDeclared), "replacement_declared"),
        (typeof(ContainmentOpened), "containment_opened"),
        (typeof(ContainmentMembersFound), "containment_members_found"),
        (typeof(ContainmentScoped), "containment_scoped"),
        (typeof(ContainmentHoldsSet), "containment_holds_set"),
        (typeof(FollowUpRecorded), "follow_up_recorded"),
        (typeof(ContainmentClosed), "containment_closed"),
        (typeof(ContainmentReopened), "containment_reopened"),
        (typeof(LateMembersAcknowledged), "late_members_acknowledged"),
        (typeof(LotMixed), "lot_mixed"),
        (typeof(BatchFormed), "batch_formed"),
        (typeof(BatchStepStarted), "batch_step_started"),
        (typeof(BatchStepCompleted), "batch_step_completed"),
        (typeof(BatchEnded), "batch_ended"),
        (typeof(BatchSplit), "batch_split"),
    ];

    private static readonly FrozenDictionary<Type, string> Names = All.ToFrozenDictionary(e => e.Type, e => e.Name);
    private static readonly FrozenDictionary<string, Type> Types = All.ToFrozenDictionary(e => e.Name, e => e.Type, StringComparer.Ordinal);

    /// <summary>The stored name of a type of fact.</summary>
    public static string Of(Type type) => Names[type];

    /// <summary>The name of a type of fact on the wire: the stored one with hyphens, and without the number of its stored form.</summary>
    public static string WireNameOf(Type type)
    {
        var name = Names[type];
        var version = name.LastIndexOf("_v", StringComparison.Ordinal);
        return (version > 0 && name.AsSpan(version + 2) is { Length: > 0 } digits && digits.IndexOfAnyExceptInRange('0', '9') < 0 ? name[..version] : name).Replace('_', '-');
    }

    /// <summary>The name of a type of fact inside another stored fact: the stored one with hyphens.</summary>
    public static string NestedNameOf(Type type) => Names[type].Replace('_', '-');

    /// <summary>The type with a stored name; null if there is none.</summary>
    public static Type? Find(string storedName) => Types.GetValueOrDefault(storedName);
}
