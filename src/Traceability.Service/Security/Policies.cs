using Microsoft.AspNetCore.Authorization;

namespace Traceability.Service.Security;

/// <summary>The policies that an endpoint may name: every endpoint names one of these, or says that it is open.</summary>
/// <remarks>The administrator may do everything.</remarks>
internal static class Policies
{
    /// <summary>Send facts: station, quality, engineer.</summary>
    public const string Record = "record";

    /// <summary>Ask: every role.</summary>
    public const string Read = "read";

    /// <summary>Decide about units and lots: quality.</summary>
    public const string Decide = "decide";

    /// <summary>Define items, routings, tools, people, stations: engineer.</summary>
    public const string Define = "define";

    /// <summary>Give and revoke keys: admin.</summary>
    public const string Administer = "administer";

    private static readonly ImmutableDictionary<string, ImmutableArray<string>> Allowed = new Dictionary<string, ImmutableArray<string>>(StringComparer.Ordinal)
    {
        [Record] = [Roles.Station, Roles.Quality, Roles.Engineer, Roles.Admin],
        [Read] = [Roles.Station, Roles.Quality, Roles.Engineer, Roles.Admin],
        [Decide] = [Roles.Quality, Roles.Admin],
        [Define] = [Roles.Engineer, Roles.Admin],
        [Administer] = [Roles.Admin],
    }.ToImmutableDictionary(StringComparer.Ordinal);

    /// <summary>Every policy's name.</summary>
    public static IEnumerable<string> All => Allowed.Keys.Order(StringComparer.Ordinal);

    /// <summary>The roles that the policy lets in.</summary>
    /// <exception cref="ArgumentException">There is no such policy.</exception>
    public static ImmutableArray<string> RolesOf(string policy) =>
        Allowed.TryGetValue(policy, out var roles) ? roles : throw new ArgumentException($"There is no policy '{policy}'.", nameof(policy));

    /// <summary>Registers them; an endpoint that names none still asks for a key.</summary>
    public static void Configure(AuthorizationOptions options)
    {
        foreach (var (name, roles) in Allowed)
        {
            options.AddPolicy(name, p => p.RequireAuthenticatedUser().RequireRole(roles));
        }

        options.FallbackPolicy = new AuthorizationPolicyBuilder().RequireAuthenticatedUser().Build();
    }
}
