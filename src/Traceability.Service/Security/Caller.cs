using System.Security.Claims;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Security;

/// <summary>Whose key a request came with.</summary>
/// <param name="Name">The key's name, unique among the keys: the sender of what it records.</param>
/// <param name="Role">One of <see cref="Roles"/>.</param>
/// <param name="Station">The only station that it may speak for; null where the key is not a station's.</param>
internal sealed record Caller(string Name, string Role, StationCode? Station)
{
    private const string StationClaim = "station";

    /// <summary>Whose request this is.</summary>
    /// <exception cref="InvalidOperationException">Nobody's: the endpoint is open to requests without a key.</exception>
    public static Caller Of(HttpContext context)
    {
        var user = context.User;
        if (user.Identity is not { IsAuthenticated: true, Name: { } name } || user.FindFirst(ClaimTypes.Role) is not { Value: var role })
        {
            throw new InvalidOperationException("The request came without a key.");
        }

        return new(name, role, user.FindFirst(StationClaim) is { Value: var station } ? StationCode.Parse(station) : null);
    }

    /// <summary>The caller as the framework knows callers.</summary>
    public ClaimsPrincipal ToPrincipal(string scheme)
    {
        var identity = new ClaimsIdentity([new(ClaimTypes.Name, Name), new(ClaimTypes.Role, Role)], scheme);
        if (Station is { } station)
        {
            identity.AddClaim(new(StationClaim, station.Value));
        }

        return new(identity);
    }
}
