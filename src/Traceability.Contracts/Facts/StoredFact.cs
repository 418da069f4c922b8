using System.Text.Json;

namespace Traceability.Contracts.Facts;

/// <summary>A fact as it was recorded.</summary>
/// <param name="FactId">The sender's id.</param>
/// <param name="Type">The fact's type, such as <c>step-completed</c>.</param>
/// <param name="Stream">The stream that it belongs to, such as <c>unit/LAMP/000123</c>.</param>
/// <param name="Version">Its place in that stream, from 1.</param>
/// <param name="RecordedAt">When it was recorded, by the service's clock.</param>
/// <param name="Content">The members of the fact as stored, with what the service added: the clock reading and the sender.</param>
public sealed record StoredFact(Guid FactId, string Type, string Stream, int Version, DateTimeOffset RecordedAt, JsonElement Content);
