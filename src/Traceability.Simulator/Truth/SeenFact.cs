using System.Globalization;
using System.Text.Json;
using System.Xml;
using Traceability.Simulator.Plant;

namespace Traceability.Simulator.Truth;

/// <summary>One fact as it counts, read from the body that was sent.</summary>
internal sealed class SeenFact
{
    public required Guid Id { get; init; }

    public required string Type { get; init; }

    /// <summary>The body that counts: as sent, or as corrected.</summary>
    public required JsonElement Body { get; init; }

    /// <summary>What to add to the terminal's times.</summary>
    public required TimeSpan Offset { get; init; }

    public required TimeSpan Uncertainty { get; init; }

    public required bool IsDoubtful { get; init; }

    public bool IsVoided { get; init; }

    public DateTimeOffset At => Json.Time(Body, "occurredAt")!.Value + Offset;

    public string? Station => Json.Text(Body, "station");

    public string? Person => Json.Text(Body, "person");

    public string Step => Json.Text(Body, "step") ?? string.Empty;

    /// <summary>Reads what was sent. A clock within 2 s of the service's is taken as right, one that is off by more than 60 s as doubtful.</summary>
    public static SeenFact Of(PlantFact fact)
    {
        var off = fact.ClockError.Duration() <= TimeSpan.FromSeconds(2) ? TimeSpan.Zero : -fact.ClockError;
        var doubtful = off.Duration() > TimeSpan.FromSeconds(60);
        using var document = fact.Parse();
        return new()
        {
            Id = fact.Id,
            Type = fact.Type,
            Body = document.RootElement.Clone(),
            Offset = off,
            Uncertainty = doubtful ? off.Duration() : TimeSpan.FromSeconds(2),
            IsDoubtful = doubtful,
        };
    }

    /// <summary>A record of a batch as one of a unit that came out of it.</summary>
    public SeenFact AsOwn() => new()
    {
        Id = Id,
        Type = Type["batch-".Length..],
        Body = Body,
        Offset = Offset,
        Uncertainty = Uncertainty,
        IsDoubtful = IsDoubtful,
        IsVoided = IsVoided,
    };

    /// <summary>The same fact with another body by another clock, or void.</summary>
    public SeenFact As(JsonElement body, SeenFact clock, bool isVoided) => new()
    {
        Id = Id,
        Type = Type,
        Body = body,
        Offset = clock.Offset,
        Uncertainty = clock.Uncertainty,
        IsDoubtful = clock.IsDoubtful,
        IsVoided = isVoided,
    };
}

/// <summary>Reads members that may be absent.</summary>
internal static class Json
{
    public static string? Text(JsonElement body, string name) =>
        body.ValueKind == JsonValueKind.Object && body.TryGetProperty(name, out var value) && value.ValueKind == JsonValueKind.String
            ? value.GetString()
            : null;

    public static bool Flag(JsonElement body, string name, bool otherwise = false) =>
        body.TryGetProperty(name, out var value) ? value.GetBoolean() : otherwise;

    public static decimal? Number(JsonElement body, string name) =>
        body.TryGetProperty(name, out var value) && value.ValueKind == JsonValueKind.Number ? value.GetDecimal() : null;

    public static JsonElement? Member(JsonElement body, string name) =>
        body.ValueKind == JsonValueKind.Object && body.TryGetProperty(name, out var value) && value.ValueKind != JsonValueKind.Null ? value : null;

    public static JsonElement[] List(JsonElement body, string name) =>
        Member(body, name) is { ValueKind: JsonValueKind.Array } list ? [.. list.EnumerateArray()] : [];

    public static string[] Texts(JsonElement body, string name) => [.. List(body, name).Select(t => t.GetString()!)];

    public static DateTimeOffset? Time(JsonElement body, string name) =>
        Text(body, name) is { } text ? DateTimeOffset.Parse(text, CultureInfo.InvariantCulture).ToUniversalTime() : null;

    public static TimeSpan? Duration(JsonElement body, string name) => Text(body, name) is { } text ? XmlConvert.ToTimeSpan(text) : null;

    /// <summary>A unit's key as "item/serial".</summary>
    public static string? Unit(JsonElement body, string name = "unit") =>
        Member(body, name) is { } unit ? $"{Text(unit, "item")}/{Text(unit, "serial")}" : null;

    /// <summary>A batch's key as "item/batch".</summary>
    public static string? Batch(JsonElement body) => Member(body, "batch") is { ValueKind: JsonValueKind.Object } batch
        ? $"{Text(batch, "item")}/{Text(batch, "batch")}"
        : null;

    /// <summary>A lot's key as "item/lot".</summary>
    public static string? Lot(JsonElement body) => Member(body, "lot") is { } lot && lot.ValueKind == JsonValueKind.Object
        ? $"{Text(lot, "item")}/{Text(lot, "lot")}"
        : null;
}
