using System.Collections.Frozen;
using System.Reflection;
using Microsoft.AspNetCore.Routing.Patterns;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Http;

/// <summary>The parameters that an endpoint takes after the question mark.</summary>
/// <param name="Names">Their names.</param>
internal sealed record KnownQueryNames(FrozenSet<string> Names);

/// <summary>
/// Refuses a parameter that an endpoint does not know: a misspelt filter would else answer another question than the one that was asked.
/// Refuses the character U+0000 in any, too, which no recorded text has and the database takes in none.
/// </summary>
internal static class KnownQuery
{
    /// <summary>
    /// Notes at each endpoint of the group which parameters it takes: what its handler binds from the query. A handler that
    /// is given the request reads its query itself, and tells the unknown with its other faults.
    /// </summary>
    public static RouteGroupBuilder RefuseUnknownQuery(this RouteGroupBuilder group)
    {
        ((IEndpointConventionBuilder)group).Finally(endpoint =>
        {
            if (endpoint is RouteEndpointBuilder route
                && endpoint.Metadata.OfType<MethodInfo>().FirstOrDefault()?.GetParameters() is { } parameters
                && !parameters.Any(p => p.ParameterType == typeof(HttpRequest)))
            {
                endpoint.Metadata.Add(new KnownQueryNames(parameters
                    .Where(p => IsBoundFromQuery(p, route.RoutePattern))
                    .Select(p => p.Name!)
                    .ToFrozenSet(StringComparer.OrdinalIgnoreCase)));
            }
        });
        return group;
    }

    /// <summary>Checks every request that has a query; after routing and after the key was asked for.</summary>
    public static void UseKnownQuery(this WebApplication app) => app.Use(static (context, next) =>
    {
        if (!context.Request.QueryString.HasValue)
        {
            return next(context);
        }

        Fault[] faults = [.. Unknown(context), .. context.Request.Query.Where(p => p.Value.Any(v => v?.Contains('\0', StringComparison.Ordinal) == true))
            .Select(p => new Fault(p.Key, "The text holds the control character U+0000, which no recorded text has."))];
        return faults.Length == 0
            ? next(context)
            : new Refusal("query-invalid", RefusalKind.Malformed, "The query can't be read. Every fault is listed.", [.. faults]).ToProblem().ExecuteAsync(context);
    });

    private static IEnumerable<Fault> Unknown(HttpContext context) => context.GetEndpoint()?.Metadata.GetMetadata<KnownQueryNames>() is not { Names: var names } ? []
        : context.Request.Query.Keys.Where(k => !names.Contains(k)).Select(k => new Fault(k, names.Count == 0
            ? "is not a parameter here: this address takes none."
            : $"is not a parameter here. Known are {string.Join(", ", names.Order(StringComparer.Ordinal))}."));

    private static bool IsBoundFromQuery(ParameterInfo parameter, RoutePattern pattern)
    {
        var type = Nullable.GetUnderlyingType(parameter.ParameterType) ?? parameter.ParameterType;
        return (type == typeof(string) || type.IsPrimitive || type.IsEnum) && pattern.GetParameter(parameter.Name!) is null;
    }
}
