using Traceability.Service.Security;

namespace Traceability.Service.Features.Access;

/// <summary>A key, without its text.</summary>
/// <param name="Id">Names it here.</param>
/// <param name="Name">Whose key it is: the sender of what it records.</param>
/// <param name="Role">station, quality, engineer or admin.</param>
/// <param name="Station">The station that it is bound to; with the role station only.</param>
/// <param name="CreatedAt">When it was given.</param>
/// <param name="RevokedAt">When it was revoked; absent while it is in force.</param>
internal sealed record KeyView(Guid Id, string Name, string Role, string? Station, DateTimeOffset CreatedAt, DateTimeOffset? RevokedAt)
{
    /// <summary>The key as shown.</summary>
    public static KeyView Of(AccessKey key) => new(key.Id, key.Name, key.Role, key.Station?.Value, key.CreatedAt, key.RevokedAt);
}

/// <summary>A key that was just given.</summary>
/// <param name="Id">Names it here.</param>
/// <param name="Name">Whose key it is.</param>
/// <param name="Role">Its role.</param>
/// <param name="Station">The station that it is bound to.</param>
/// <param name="CreatedAt">When it was given.</param>
/// <param name="Key">The key itself, shown this once.</param>
internal sealed record CreatedKeyView(Guid Id, string Name, string Role, string? Station, DateTimeOffset CreatedAt, string Key);

/// <summary>All keys.</summary>
/// <param name="Keys">By name.</param>
internal sealed record KeyListView(IReadOnlyList<KeyView> Keys);
