using System.Text.Json;
using Traceability.Contracts.Units;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Service.Http;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Units;

/// <summary>Puts the build record of a unit together, and of the units inside it.</summary>
internal sealed class BuildRecords(UnitReader units, TimeProvider clock)
{
    // Deeper than any assembly: only records that contradict each other could nest further, in a circle.
    private const int DepthMax = 12;

    private const string Statement =
        "This record states what was recorded and which rules the records broke. It does not state that the unit is safe or fit for use.";

    /// <summary>The build record, or null if the unit was never opened.</summary>
    public Task<BuildRecord?> FindAsync(UnitKey unit, CancellationToken cancellation) => FindAsync(unit, 0, cancellation);

    private async Task<BuildRecord?> FindAsync(UnitKey key, int depth, CancellationToken cancellation)
    {
        if (await units.FindAsOfWatermarkAsync(key, cancellation) is not { } judged)
        {
            return null;
        }

        var components = new List<BuildRecord>();
        if (depth < DepthMax)
        {
            foreach (var inside in judged.Judgement.Installations.Where(i => i.To is null).Select(i => i.Component).Distinct())
            {
                if (await FindAsync(inside, depth + 1, cancellation) is { } component)
                {
                    components.Add(component);
                }
            }
        }

        var now = clock.GetUtcNow();
        var view = UnitViews.Of(judged, now);
        return new(
            now,
            view,
            Records(judged.Unit.Facts, judged.Unit.Effective),
            [.. judged.Judgement.Usages.Select(u => Lot(u, judged.References))],
            Tools(judged),
            [.. judged.Judgement.Gaps.Select(Gap)],
            components,
            Statement,
            CompletenessReader.All([view.Completeness, .. components.Select(c => c.Completeness)]))
        {
            DerivedLimits = [.. DerivedLimits.Of(judged.Unit, judged.References).Select(LimitViews.Of)],
            Signatures = [.. SignatureViews.Of(judged.Unit, _ => null)],
            BatchRecords = judged.Unit.Opened is { } opened && BatchRecords.Of(opened) is { } batch && judged.References.FindBatch(batch) is { } known
                ? [.. Domain.Batches.BatchChain.Of(known, judged.References.FindBatch).SelectMany(OfBatch)]
                : [],
        };
    }

    // Of what the batch was split off, only what was done to its parts too, and the split itself.
    private static IEnumerable<RecordedFactView> OfBatch(Domain.Batches.BatchLink link)
    {
        var gone = link.Batch.Effective.Where(f => !link.Splits.All(s => BatchRecords.MayBeBefore(f, s))).Select(f => f.Id).ToHashSet();
        gone.UnionWith(link.Batch.Facts.Where(f => f.Fact is RecordCorrected c && gone.Contains(c.Record)).Select(f => f.Id).ToArray());
        return Records(link.Batch.Facts, link.Batch.Effective).Where(r => !gone.Contains(r.FactId));
    }

    private static List<RecordedFactView> Records(ImmutableArray<RecordedFact> facts, ImmutableArray<EffectiveFact> counting)
    {
        var effective = counting.ToDictionary(f => f.Id);
        return [.. facts.Select((f, i) =>
        {
            var now = effective.GetValueOrDefault(f.Id);
            return new RecordedFactView(
                f.Id,
                f.Fact is UnreadableFact { StoredName: var stored } ? stored.Replace('_', '-') : EventNames.WireNameOf(f.Fact.GetType()),
                i + 1,
                f.Fact.At,
                f.RecordedAt,
                Content(f.Fact),
                now?.IsVoided ?? false,
                now?.Corrections ?? [],
                (f.Fact as UnreadableFact)?.Reason);
        })];
    }

    // What can't be read is shown as it is stored.
    private static JsonElement Content(Fact fact) =>
        JsonSerializer.Deserialize<JsonElement>(fact is UnreadableFact { Content: { } stored } ? stored : FactCodec.Serialize(fact));

    private static LotUsed Lot(MaterialUsage usage, IReferences references)
    {
        var lot = references.FindLot(usage.Lot);
        return new(
            usage.Lot.Item.Value,
            usage.Lot.Lot.Value,
            usage.Container?.Value,
            usage.Step?.Value,
            usage.Record,
            usage.IsOneOf,
            lot?.Received?.SupplierLot,
            lot is null ? null : new LotJudge(references.FindLot).ExpiryAt(lot, usage.To),
            lot is not null);
    }

    private static List<ToolUsed> Tools(JudgedUnit judged) =>
        [.. judged.Unit.Effective
            .Where(f => !f.IsVoided)
            .Select(f => (Record: f, Step: f.Fact as StepCompleted))
            .Where(f => f.Step is not null)
            .SelectMany(f => f.Step!.Tools.Select(use =>
            {
                var tool = judged.References.FindTool(use.Tool);
                var calibration = tool?.CalibrationAt(f.Record.At);
                return new ToolUsed(
                    use.Tool.Value,
                    use.Setting?.Value,
                    f.Step.Step.Value,
                    f.Record.Id,
                    tool?.Definition?.ToolClass.Value,
                    calibration?.At,
                    calibration is null ? null : tool!.ValidUntil(calibration));
            }))];

    private static MissingTrace Gap(TraceGap gap) => new(
        EnumNames<GapKind>.Of(gap.Kind),
        EnumNames<GapReason>.Of(gap.Reason),
        gap.Step?.Value,
        gap.Requirement?.Value,
        [.. gap.Items.Select(i => i.Value)]);
}
