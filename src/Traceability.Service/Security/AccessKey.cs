using Traceability.Domain.Primitives;

namespace Traceability.Service.Security;

/// <summary>A key as it is stored: without its text.</summary>
/// <param name="Id">Names the key where it is managed; no secret.</param>
/// <param name="Name">Whose key it is, unique among all keys that ever were.</param>
/// <param name="Role">One of <see cref="Roles"/>.</param>
/// <param name="Station">The station that it is bound to; only and always with the role station.</param>
/// <param name="CreatedAt">When it was made.</param>
/// <param name="RevokedAt">When it was revoked; null while it is in force.</param>
internal sealed record AccessKey(Guid Id, string Name, string Role, StationCode? Station, DateTimeOffset CreatedAt, DateTimeOffset? RevokedAt)
{
    /// <summary>Its holder.</summary>
    public Caller Caller => new(Name, Role, Station);
}
