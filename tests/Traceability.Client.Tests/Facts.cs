using System.Text.Json;
using Traceability.Contracts.Facts;

namespace Traceability.Client.Tests;

/// <summary>Facts for tests that need no service.</summary>
internal static class Some
{
    public static readonly DateTimeOffset Noon = new(2026, 3, 2, 12, 0, 0, TimeSpan.Zero);

    public static StepCompleted Step(string serial, string step = "BOND", string? note = null) => new()
    {
        OccurredAt = Noon,
        Station = "ST-1",
        Unit = new() { Item = "LAMP", Serial = serial },
        Step = step,
        Note = note,
    };

    public static ItemDefined Item(string item) => new() { OccurredAt = Noon, Item = item, Kind = ItemKind.Part, Description = "A part" };

    public static JsonElement Parse(string json)
    {
        using var document = JsonDocument.Parse(json);
        return document.RootElement.Clone();
    }
}
