using System.Text.Json;
using Traceability.Contracts;

namespace Traceability.Client.Outbox.Storage;

/// <summary>Notes in the file beside the entries.</summary>
internal static class OutboxNotes
{
    public const string Damage = "damage";
    public const string Clock = "clock";

    public static string Write<T>(T note) => JsonSerializer.Serialize(note, WireJson.Options);

    public static T? Read<T>(string? text)
        where T : class => text is null ? null : JsonSerializer.Deserialize<T>(text, WireJson.Options);
}
