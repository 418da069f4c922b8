using Traceability.Client.Http;
using Traceability.Contracts.Batches;
using Traceability.Contracts.Definitions;
using Traceability.Contracts.Dispersion;
using Traceability.Contracts.Facts;
using Traceability.Contracts.Lots;
using Traceability.Contracts.People;
using Traceability.Contracts.Revisions;
using Traceability.Contracts.Scope;
using Traceability.Contracts.Tools;
using Traceability.Contracts.Units;

namespace Traceability.Client;

/// <content>Tools, lots, batches, revisions, fits and qualifications.</content>
public sealed partial class TraceabilityClient
{
    /// <summary>Tells where a tool stands: its calibration, its settings, what of its past is suspect.</summary>
    public Task<ToolLifeView> GetToolLifeAsync(string tool, CancellationToken cancellation = default) => AskAsync<ToolLifeView>(Address.Of("tools", tool, "life"), cancellation);

    /// <summary>Tells what capability studies tell of a tool, by setting.</summary>
    public Task<ToolCapabilityView> GetToolCapabilityAsync(string tool, CancellationToken cancellation = default) =>
        AskAsync<ToolCapabilityView>(Address.Of("tools", tool, "capability"), cancellation);

    /// <summary>Gives the checks of a tool at one setting as a chart.</summary>
    /// <param name="tool">The tool.</param>
    /// <param name="setting">The setting; null: the checks that name none.</param>
    /// <param name="from">Checks at this time or later.</param>
    /// <param name="to">Checks before this time.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    public Task<ToolDriftView> GetToolDriftAsync(string tool, string? setting = null, DateTimeOffset? from = null, DateTimeOffset? to = null, CancellationToken cancellation = default) =>
        AskAsync<ToolDriftView>(Address.With(Address.Of("tools", tool, "drift"), ("setting", setting), ("from", from), ("to", to)), cancellation);

    /// <summary>Gives a page of what was done with a tool.</summary>
    /// <param name="tool">The tool.</param>
    /// <param name="setting">Only at this setting.</param>
    /// <param name="from">Only at this time or later.</param>
    /// <param name="to">Only before this time.</param>
    /// <param name="suspectOnly">Only what was done while the tool may have been wrong.</param>
    /// <param name="limit">The most of the page.</param>
    /// <param name="after">What the page before said as "after".</param>
    /// <param name="cancellation">Ends the waiting.</param>
    public Task<ToolUsePage> GetToolUsesAsync(
        string tool,
        string? setting = null,
        DateTimeOffset? from = null,
        DateTimeOffset? to = null,
        bool suspectOnly = false,
        int? limit = null,
        string? after = null,
        CancellationToken cancellation = default) =>
        AskAsync<ToolUsePage>(
            Address.With(
                Address.Of("tools", tool, "uses"), ("setting", setting), ("from", from), ("to", to), ("suspectOnly", suspectOnly), ("limit", limit), ("after", after)),
            cancellation);

    /// <summary>Gives which lots a lot was made of, and which were made of it.</summary>
    public Task<LotLineageView> GetLotLineageAsync(LotRef lot, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(lot);
        return AskAsync<LotLineageView>(Address.Of("lots", lot.Item, lot.Lot, "lineage"), cancellation);
    }

    /// <summary>Gives what of a lot is unexplained, and how many units that could be.</summary>
    public Task<LotBalanceView> GetLotBalanceAsync(LotRef lot, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(lot);
        return AskAsync<LotBalanceView>(Address.Of("lots", lot.Item, lot.Lot, "balance"), cancellation);
    }

    /// <summary>Gives a lot's mass balance beside its scope: where what is unexplained could have gone, and what stands against taking the scope as complete.</summary>
    public Task<LotReconciliationView> GetLotReconciliationAsync(LotRef lot, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(lot);
        return AskAsync<LotReconciliationView>(Address.Of("lots", lot.Item, lot.Lot, "reconciliation"), cancellation);
    }

    /// <summary>Tells how widely a lot is spread over finished units, counted at the moment of asking.</summary>
    /// <remarks>Counted is what records name. Units whose record is missing are in the lot's scope only.</remarks>
    public Task<LotDispersionAnswer> GetLotDispersionAsync(LotRef lot, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(lot);
        return AskAsync<LotDispersionAnswer>(Address.Of("lots", lot.Item, lot.Lot, "dispersion"), cancellation);
    }

    /// <summary>Gives a page of lots by how many finished units carry them, widest first, from counts that are taken in the background.</summary>
    /// <param name="item">Only lots of this item.</param>
    /// <param name="from">Only lots that were still used at this time or later; all their units count.</param>
    /// <param name="to">Only lots that were used before this time.</param>
    /// <param name="limit">The most lots of the page, 1 to 1,000; null: 100.</param>
    /// <param name="after">What the page before said as "after".</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <remarks>Look at the time of counting and at the remarks: what was recorded since is not in it.</remarks>
    public Task<LotDispersions> GetLotDispersionsAsync(
        string? item = null, DateTimeOffset? from = null, DateTimeOffset? to = null, int? limit = null, string? after = null, CancellationToken cancellation = default) =>
        AskAsync<LotDispersions>(
            Address.With(Address.Of("lots", "dispersion"), ("item", item), ("from", from), ("to", to), ("limit", limit), ("after", after)), cancellation);

    /// <summary>Gives a batch of parts without serials: what was recorded of it, and the units that were taken out of it.</summary>
    /// <param name="item">Item number.</param>
    /// <param name="batch">Batch number.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    public Task<BatchView> GetBatchAsync(string item, string batch, CancellationToken cancellation = default) =>
        AskAsync<BatchView>(Address.Of("batches", item, batch), cancellation);

    /// <summary>Gives the lots that a supplier's lot came in as.</summary>
    /// <param name="supplierLot">The supplier's lot, as it is marked.</param>
    /// <param name="supplier">Only of this supplier.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    public Task<IReadOnlyList<LotView>> FindSupplierLotAsync(string supplierLot, string? supplier = null, CancellationToken cancellation = default) =>
        AskAsync<IReadOnlyList<LotView>>(Address.With(Address.Of("supplier-lots"), ("supplierLot", supplierLot), ("supplier", supplier)), cancellation);

    /// <summary>Gives a page of the units that a supplier's lot reaches or may have reached.</summary>
    /// <param name="supplierLot">The supplier's lot, as it is marked.</param>
    /// <param name="supplier">Only of this supplier.</param>
    /// <param name="limit">The most of the page.</param>
    /// <param name="after">What the page before said as "after".</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <remarks>Look at the answer's completeness and remarks before you rely on it.</remarks>
    public Task<SupplierLotScope> GetSupplierLotScopeAsync(
        string supplierLot, string? supplier = null, int? limit = null, string? after = null, CancellationToken cancellation = default) =>
        AskAsync<SupplierLotScope>(
            Address.With(Address.Of("supplier-lots", "scope"), ("supplierLot", supplierLot), ("supplier", supplier), ("limit", limit), ("after", after)), cancellation);

    /// <summary>Tells what two revisions of an item's routing have different.</summary>
    public Task<RevisionDifference> GetRevisionDifferencesAsync(string item, string from, string to, CancellationToken cancellation = default) =>
        AskAsync<RevisionDifference>(Address.With(Address.Of("routings", item, "differences"), ("from", from), ("to", to)), cancellation);

    /// <summary>Tells which units the released revisions of an item's routing apply to, and where two of them meet.</summary>
    public Task<RoutingEffectivity> GetEffectivityAsync(string item, CancellationToken cancellation = default) =>
        AskAsync<RoutingEffectivity>(Address.Of("routings", item, "effectivity"), cancellation);

    /// <summary>Tells what moving units in process to another revision comes to. Nothing is recorded.</summary>
    public Task<MovePlan> PlanMovesAsync(string item, MovePlanQuestion question, CancellationToken cancellation = default) =>
        PostAsync<MovePlanQuestion, MovePlan>(Address.Of("routings", item, "move-plans"), question, cancellation);

    /// <summary>Asks which sizes or mates fit a unit at a step. Nothing is recorded.</summary>
    public Task<FitProposal> AskFitAsync(UnitRef unit, string step, FitQuestion question, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(unit);
        return PostAsync<FitQuestion, FitProposal>(Address.Of("units", unit.Item, unit.Serial, "steps", step, "fits"), question, cancellation);
    }

    /// <summary>Gives a page of the qualifications that stand at the moment of asking.</summary>
    /// <param name="qualification">Only this one.</param>
    /// <param name="expiringBefore">Only those that end before this time.</param>
    /// <param name="limit">The most of the page.</param>
    /// <param name="after">What the page before said as "after".</param>
    /// <param name="cancellation">Ends the waiting.</param>
    public Task<QualificationPage> GetQualificationsAsync(
        string? qualification = null, DateTimeOffset? expiringBefore = null, int? limit = null, string? after = null, CancellationToken cancellation = default) =>
        AskAsync<QualificationPage>(
            Address.With(Address.Of("people", "qualifications"), ("qualification", qualification), ("expiringBefore", expiringBefore), ("limit", limit), ("after", after)), cancellation);
}
