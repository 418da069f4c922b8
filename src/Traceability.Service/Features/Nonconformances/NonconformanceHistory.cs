using System.Text.Json;
using Traceability.Contracts.Units;
using Traceability.Domain.Facts;
using Traceability.Domain.Nonconformances;
using Traceability.Domain.ProductUnits;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Nonconformances;

/// <summary>What was recorded about one nonconformance.</summary>
internal static class NonconformanceHistory
{
    /// <summary>The record that it rests on, the decisions, what corrected or voided any of them, and what closed it, in order of arrival.</summary>
    public static IReadOnlyList<RecordedFactView> Of(ProductUnit unit, Nonconformance nonconformance)
    {
        HashSet<Guid> ids = [nonconformance.Record, nonconformance.EndedBy ?? nonconformance.Record];
        ids.UnionWith(unit.Facts.Where(f => f.Fact is INonconformanceDecision d && d.Nonconformance == nonconformance.Id).Select(f => f.Id));

        // A void may itself be void, and so on.
        while (unit.Facts.Where(f => NamedBy(f.Fact) is { } named && ids.Contains(named) && !ids.Contains(f.Id)).Select(f => f.Id).ToArray() is { Length: > 0 } changes)
        {
            ids.UnionWith(changes);
        }

        var effective = unit.Effective.ToDictionary(f => f.Id);
        return [.. unit.Facts.Select((f, i) => (Fact: f, Version: i + 1)).Where(f => ids.Contains(f.Fact.Id)).Select(f => View(f.Fact, f.Version, effective.GetValueOrDefault(f.Fact.Id)))];
    }

    private static Guid? NamedBy(Fact fact) => fact switch
    {
        RecordCorrected c => c.Record,
        RecordVoided v => v.Record,
        _ => null,
    };

    private static RecordedFactView View(RecordedFact recorded, int version, EffectiveFact? now)
    {
        var unreadable = recorded.Fact as UnreadableFact;
        return new(
            recorded.Id,
            unreadable?.StoredName.Replace('_', '-') ?? EventNames.WireNameOf(recorded.Fact.GetType()),
            version,
            recorded.Fact.At,
            recorded.RecordedAt,
            JsonSerializer.Deserialize<JsonElement>(unreadable?.Content ?? FactCodec.Serialize(recorded.Fact)),
            now?.IsVoided ?? false,
            now?.Corrections ?? [],
            unreadable?.Reason);
    }
}
