using System.Text.Json;

namespace Traceability.Contracts;

/// <summary>A fact as it is stored.</summary>
public sealed record StoredFact
{
    /// <summary>Id chosen by its sender.</summary>
    public required Guid FactId { get; init; }

    /// <summary>Type of fact, such as step-completed.</summary>
    public required string Type { get; init; }

    /// <summary>The stream that it belongs to.</summary>
    public required string Stream { get; init; }

    /// <summary>Its place in that stream, from 1.</summary>
    public required int Version { get; init; }

    /// <summary>When the service stored it.</summary>
    public required DateTimeOffset RecordedAt { get; init; }

    /// <summary>What was reported, with the clock reading and the sender that the service added.</summary>
    public required JsonElement Content { get; init; }
}
