using System.Diagnostics.CodeAnalysis;
using System.Text;
using System.Text.Json;
using Traceability.Domain.Facts;

namespace Traceability.Service.Storage;

/// <summary>Writes facts as stored JSON and reads them back.</summary>
public static class FactCodec
{
    /// <summary>The JSON of a fact, without its type, which is stored beside it: <see cref="EventNames.Of"/>.</summary>
    public static string Serialize(Fact fact)
    {
        ArgumentNullException.ThrowIfNull(fact);
        return JsonSerializer.Serialize(fact, fact.GetType(), EventJson.Options);
    }

    /// <summary>The same as UTF-8.</summary>
    internal static byte[] SerializeToUtf8(Fact fact) => JsonSerializer.SerializeToUtf8Bytes(fact, fact.GetType(), EventJson.Options);

    /// <summary>Reads a stored fact. Total: what can't be read comes back as an <see cref="UnreadableFact"/> that says why.</summary>
    /// <param name="storedName">The event's stored name.</param>
    /// <param name="json">The stored JSON.</param>
    /// <param name="recordedAt">When it was stored; an unreadable fact whose own time can't be read either is put there.</param>
    public static Fact Deserialize(string storedName, string json, DateTimeOffset recordedAt) =>
        Deserialize(storedName, json, recordedAt, Upcasters.All);

    /// <summary>The same from UTF-8.</summary>
    [SuppressMessage("Design", "CA1031:Do not catch general exception types", Justification = "Whatever one stored row holds, the others must stay readable.")]
    internal static Fact Deserialize(string storedName, byte[] json, DateTimeOffset recordedAt)
    {
        try
        {
            if (!Upcasters.All.MayRaise(storedName) && EventNames.Find(storedName) is { } type && JsonSerializer.Deserialize(json, type, EventJson.Options) is Fact fact)
            {
                return fact;
            }
        }
        catch (Exception)
        {
            // Read below once more, which says why it can't be.
        }

        return Deserialize(storedName, Encoding.UTF8.GetString(json), recordedAt, Upcasters.All);
    }

    /// <summary>Reads a stored fact whose time of recording is not at hand.</summary>
    public static Fact Deserialize(string storedName, string json) => Deserialize(storedName, json, DateTimeOffset.UnixEpoch);

    /// <summary>The same, with other rules for old forms.</summary>
    [SuppressMessage("Design", "CA1031:Do not catch general exception types", Justification = "Whatever one stored row holds, the others must stay readable.")]
    internal static Fact Deserialize(string storedName, string json, DateTimeOffset recordedAt, Upcasters upcasters)
    {
        try
        {
            var (name, content) = upcasters.Raise(storedName, json);
            return EventNames.Find(name) is not { } type
                ? Unreadable(storedName, json, recordedAt, "There is no event of this name.")
                : JsonSerializer.Deserialize(content, type, EventJson.Options) as Fact
                    ?? Unreadable(storedName, json, recordedAt, "The stored JSON is null.");
        }
        catch (Exception e)
        {
            return Unreadable(storedName, json, recordedAt, e.Message);
        }
    }

    private static UnreadableFact Unreadable(string storedName, string json, DateTimeOffset recordedAt, string reason) =>
        new(storedName, reason) { OccurredAt = TimeOf(json) ?? recordedAt, Content = json };

    private static DateTimeOffset? TimeOf(string? json)
    {
        try
        {
            using var document = JsonDocument.Parse(json ?? string.Empty);
            return document.RootElement.ValueKind == JsonValueKind.Object
                && document.RootElement.TryGetProperty("occurredAt"u8, out var at)
                && at.ValueKind == JsonValueKind.String
                && at.TryGetDateTimeOffset(out var time)
                    ? time
                    : null;
        }
        catch (JsonException)
        {
            return null;
        }
    }
}
