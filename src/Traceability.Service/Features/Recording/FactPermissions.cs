using Traceability.Domain.Batches;
using Traceability.Domain.Containments;
using Traceability.Domain.Cure;
using Traceability.Domain.Facts;
using Traceability.Domain.Items;
using Traceability.Domain.Lots;
using Traceability.Domain.Nonconformances;
using Traceability.Domain.People;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;
using Traceability.Domain.Sites;
using Traceability.Domain.Tools;
using Traceability.Service.Security;

namespace Traceability.Service.Features.Recording;

/// <summary>Which role may report what. An administrator may report everything.</summary>
internal static class FactPermissions
{
    private static readonly ImmutableDictionary<Type, ImmutableArray<string>> Allowed = new Dictionary<Type, ImmutableArray<string>>
    {
        // What happens at a station
        [typeof(UnitOpened)] = [Roles.Station, Roles.Quality, Roles.Engineer],
        [typeof(StepStarted)] = [Roles.Station, Roles.Quality],
        [typeof(BatchFormed)] = [Roles.Station, Roles.Quality, Roles.Engineer],
        [typeof(BatchSplit)] = [Roles.Station, Roles.Quality, Roles.Engineer],
        [typeof(BatchStepStarted)] = [Roles.Station, Roles.Quality],
        [typeof(BatchStepCompleted)] = [Roles.Station, Roles.Quality],
        [typeof(BatchEnded)] = [Roles.Station, Roles.Quality, Roles.Engineer],
        [typeof(StepCompleted)] = [Roles.Station, Roles.Quality],
        [typeof(ComponentInstalled)] = [Roles.Station, Roles.Quality],
        [typeof(ComponentRemoved)] = [Roles.Station, Roles.Quality],
        [typeof(UnitHeld)] = [Roles.Station, Roles.Quality],
        [typeof(NonconformanceReported)] = [Roles.Station, Roles.Quality, Roles.Engineer],
        [typeof(ContainerOpened)] = [Roles.Station, Roles.Quality, Roles.Engineer],
        [typeof(ContainerEmptied)] = [Roles.Station, Roles.Quality, Roles.Engineer],
        [typeof(LotEmptied)] = [Roles.Station, Roles.Quality, Roles.Engineer],
        [typeof(LotMoved)] = [Roles.Station, Roles.Quality, Roles.Engineer],
        [typeof(TemperatureRecorded)] = [Roles.Station, Roles.Quality, Roles.Engineer],
        [typeof(ToolChecked)] = [Roles.Station, Roles.Quality, Roles.Engineer],
        [typeof(ToolWithdrawn)] = [Roles.Station, Roles.Quality, Roles.Engineer],
        [typeof(LotSplit)] = [Roles.Station, Roles.Quality, Roles.Engineer],
        [typeof(LotMerged)] = [Roles.Station, Roles.Quality, Roles.Engineer],
        [typeof(LotMixed)] = [Roles.Station, Roles.Quality, Roles.Engineer],
        [typeof(StockCounted)] = [Roles.Station, Roles.Quality, Roles.Engineer],

        // Decisions
        [typeof(RecordCorrected)] = [Roles.Quality],
        [typeof(RecordVoided)] = [Roles.Quality],
        [typeof(UnitMovedToRevision)] = [Roles.Quality, Roles.Engineer],
        [typeof(UnitHoldLifted)] = [Roles.Quality],
        [typeof(UnitReleased)] = [Roles.Quality],
        [typeof(UnitScrapped)] = [Roles.Quality],
        [typeof(UnitShipped)] = [Roles.Quality],
        [typeof(UnitReturned)] = [Roles.Quality],
        [typeof(NonconformanceTakenUp)] = [Roles.Quality],
        [typeof(NonconformanceDisposed)] = [Roles.Quality],
        [typeof(LotReleased)] = [Roles.Quality],
        [typeof(LotQuarantined)] = [Roles.Quality],
        [typeof(LotExpirySet)] = [Roles.Quality],
        [typeof(ToolReinstated)] = [Roles.Quality],
        [typeof(LotInspected)] = [Roles.Quality],
        [typeof(LotRecertified)] = [Roles.Quality],

        // Containments. What no role may report the service records itself
        [typeof(ContainmentOpened)] = [Roles.Quality],
        [typeof(ContainmentMembersFound)] = [],
        [typeof(ContainmentScoped)] = [],
        [typeof(ContainmentHoldsSet)] = [],
        [typeof(FollowUpRecorded)] = [Roles.Quality],
        [typeof(ContainmentClosed)] = [Roles.Quality],
        [typeof(ContainmentReopened)] = [Roles.Quality],
        [typeof(LateMembersAcknowledged)] = [Roles.Quality],

        // Definitions
        [typeof(LotReceived)] = [Roles.Quality, Roles.Engineer],
        [typeof(ToolDefined)] = [Roles.Engineer],
        [typeof(ToolCalibrated)] = [Roles.Quality, Roles.Engineer],
        [typeof(ToolSettingVerified)] = [Roles.Quality, Roles.Engineer],
        [typeof(ToolStudied)] = [Roles.Quality, Roles.Engineer],
        [typeof(PersonDefined)] = [Roles.Quality, Roles.Engineer],
        [typeof(QualificationGranted)] = [Roles.Quality, Roles.Engineer],
        [typeof(QualificationWithdrawn)] = [Roles.Quality, Roles.Engineer],
        [typeof(SiteDefined)] = [Roles.Engineer],
        [typeof(StationDefined)] = [Roles.Engineer],
        [typeof(ItemDefined)] = [Roles.Engineer],
        [typeof(DefectCodeDefined)] = [Roles.Quality, Roles.Engineer],
        [typeof(RoutingDrafted)] = [Roles.Engineer],
        [typeof(RoutingReleased)] = [Roles.Engineer],
        [typeof(RoutingApproved)] = [Roles.Quality, Roles.Engineer],
        [typeof(ReplacementDeclared)] = [Roles.Quality, Roles.Engineer],
        [typeof(TrainingCompleted)] = [Roles.Quality, Roles.Engineer],
    }.ToImmutableDictionary();

    /// <summary>The types of fact that have an entry.</summary>
    public static IEnumerable<Type> Types => Allowed.Keys;

    /// <summary>The refusal, or null: the caller may report this.</summary>
    public static Refusal? Check(Caller caller, Fact fact)
    {
        if (caller.Role != Roles.Admin && !(Allowed.TryGetValue(fact.GetType(), out var roles) && roles.Contains(caller.Role, StringComparer.Ordinal)))
        {
            return Refusal.At("role-not-allowed", RefusalKind.Unauthorised, "/type", $"A key of role {caller.Role} may not report this type of fact.");
        }

        // A station's key speaks for that station only.
        return caller.Station is { } own && fact.Station != own
            ? Refusal.At("station-not-own", RefusalKind.Unauthorised, "/station", $"This key belongs to station {own}: a fact that it sends names that station.")
            : null;
    }
}
