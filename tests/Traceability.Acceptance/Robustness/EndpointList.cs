using System.Text.RegularExpressions;
using Microsoft.AspNetCore.Routing;
using Traceability.Testing;

namespace Traceability.Acceptance.Robustness;

/// <summary>What the tests expect of one endpoint.</summary>
/// <param name="Name">Method and pattern, as the endpoint table has them.</param>
/// <param name="Path">An address that it answers; empty query where it needs none.</param>
internal sealed partial record Expectation(string Name, string Path)
{
    /// <summary>Addresses that name something unknown, with the problem's code and the place that it names.</summary>
    public (string Path, string Code, string Pointer)[] Unknown { get; init; } = [];

    /// <summary>Queries that can't be read; each names its parameter, all parameters of the contract are among them.</summary>
    public (string Query, string Pointer)[] BadQueries { get; init; } = [];

    /// <summary>Media type of the body; null for none.</summary>
    public string? MediaType { get; init; }

    /// <summary>Further media types that it takes.</summary>
    public string[] AlsoTakes { get; init; } = [];

    /// <summary>A body that it takes.</summary>
    public string Body { get; init; } = string.Empty;

    /// <summary>The most bytes of the body.</summary>
    public int BytesMax { get; init; } = 64 * 1024;

    /// <summary>Codes of a body that is no JSON of the right form.</summary>
    public string MalformedCode { get; init; } = "body-malformed";

    /// <summary>Bodies that are refused: what, the body, the status, the code, the places.</summary>
    public (string What, string Body, int Status, string Code, string[] Pointers)[] Bodies { get; init; } = [];

    /// <summary>The method.</summary>
    public HttpMethod Method => HttpMethod.Parse(Name.Split(' ')[0]);

    /// <summary>Whether it belongs to the API; the others are pages and probes that take no input but their address.</summary>
    public bool IsApi => Name.Contains(" /api/", StringComparison.Ordinal);

    /// <summary>The names of the values in its path.</summary>
    public string[] PathValues => [.. Value().Matches(Name).Select(m => m.Groups["name"].Value)];

    /// <summary>The valid address with another value in its path, without a query.</summary>
    public string With(string pathValue, string text)
    {
        var pattern = Name.Split(' ')[1].Split('/');
        var segments = Path.Split('?')[0].Split('/');
        return string.Join('/', segments.Select((s, i) => Value().Match(pattern[i]) is { Success: true } m && m.Groups["name"].Value == pathValue ? text : s));
    }

    [GeneratedRegex(@"\{(?<name>\w+)[^}]*\}", RegexOptions.ExplicitCapture, 1000)]
    private static partial Regex Value();
}

/// <summary>The endpoints of a running service.</summary>
internal static class EndpointList
{
    /// <summary>Method and pattern of every endpoint.</summary>
    public static IEnumerable<string> Of(ServiceHost host) =>
        from endpoint in ((IEndpointRouteBuilder)host.App).DataSources.SelectMany(s => s.Endpoints).OfType<RouteEndpoint>()
        from method in endpoint.Metadata.GetMetadata<IHttpMethodMetadata>()?.HttpMethods ?? ["GET"]
        select $"{method} /{endpoint.RoutePattern.RawText!.Trim('/')}";
}
