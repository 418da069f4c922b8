using System.Text.Json;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Service.Http.Reading;

namespace Traceability.Service.Features.Units;

/// <summary>What would fit?</summary>
/// <param name="Characteristic">The characteristic that the part must meet.</param>
/// <param name="Sizes">Sizes at hand.</param>
/// <param name="Mates">Units to look among; null: none.</param>
internal sealed record FitAsked(Code Characteristic, ImmutableArray<FitCandidate> Sizes, MateQuestion? Mates);

/// <summary>Reads the question what would fit.</summary>
internal static class FitReader
{
    private static readonly Shape Question = new("characteristic", "sizes", "mates");
    private static readonly Shape SizeShape = new("name", "value", "unit", "standardUncertainty");
    private static readonly Shape MateShape = new("item", "step", "characteristic", "limit");

    /// <summary>Reads it at the present place.</summary>
    public static FitAsked Read(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, Question);
        return new(o.Code<Code>("characteristic"), o.List("sizes", Size), o.Has("mates") ? o.Object("mates", Mates) : null);
    }

    private static FitCandidate Size(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, SizeShape);
        return new(o.Text("name"), null, null, new(o.Number("value"), o.UnitOfMeasure("unit")), Parts.StandardUncertainty(o));
    }

    private static MateQuestion Mates(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, MateShape);
        return new(
            o.Code<ItemNumber>("item"), o.Code<StepCode>("step"), o.Code<Code>("characteristic"), o.Count("limit", MateReader.LimitDefault, MateReader.LimitMax));
    }
}
