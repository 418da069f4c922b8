using Microsoft.AspNetCore.Authorization;

namespace Traceability.Service.Security;

/// <summary>Sees to it that every endpoint says who may use it.</summary>
internal static class EndpointPolicies
{
    /// <summary>The endpoints that neither name one of <see cref="Policies"/> nor say that they are open.</summary>
    public static IReadOnlyList<string> Missing(IEnumerable<Endpoint> endpoints) =>
        [.. endpoints.Where(e => !IsNamed(e)).Select(e => e.DisplayName ?? "(unnamed)").Order(StringComparer.Ordinal)];

    /// <summary>Every endpoint of the service.</summary>
    public static IEnumerable<Endpoint> Of(WebApplication app) => ((IEndpointRouteBuilder)app).DataSources.SelectMany(s => s.Endpoints);

    /// <summary>Throws if an endpoint names no policy.</summary>
    /// <exception cref="InvalidOperationException">At least one does not.</exception>
    public static void Require(WebApplication app)
    {
        if (Missing(Of(app)) is { Count: > 0 } missing)
        {
            throw new InvalidOperationException($"These endpoints name no policy and don't say that they are open: {string.Join(", ", missing)}.");
        }
    }

    private static bool IsNamed(Endpoint endpoint)
    {
        var isOpen = endpoint.Metadata.GetMetadata<IAllowAnonymous>() is not null;
        var named = endpoint.Metadata.GetOrderedMetadata<IAuthorizeData>();

        // Both at once would be open, whatever the policy says.
        return isOpen
            ? named.Count == 0
            : named.Count > 0 && named.All(a => a.Policy is { } policy && Policies.All.Contains(policy, StringComparer.Ordinal));
    }
}
