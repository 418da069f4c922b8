using System.Net;
using System.Text;
using Microsoft.AspNetCore.Routing;
using Microsoft.AspNetCore.Routing.Patterns;
using Traceability.Testing;

namespace Traceability.Acceptance.Access;

/// <summary>Who may ask what: every endpoint of the running service against every role.</summary>
public sealed class EndpointRoleMatrixTests(ServiceFixture fixture) : IClassFixture<ServiceFixture>
{
    private static readonly string[] Roles = ["station", "quality", "engineer", "admin"];

    // Columns: anonymous, station, quality, engineer, admin; "+" may, "-" may not.
    private static readonly Dictionary<string, string> Table = new(StringComparer.Ordinal)
    {
        ["GET /health/live"] = "+++++",
        ["GET /health/ready"] = "+++++",
        ["GET /docs"] = "+++++",
        ["GET /docs/reference.js"] = "+++++",
        ["GET /docs/reference.css"] = "+++++",
        ["GET /openapi.json"] = "+++++",
        ["GET /problems/{code}"] = "+++++",
        ["GET /metrics"] = "-++++",
        ["POST /api/keys"] = "----+",
        ["GET /api/keys"] = "----+",
        ["DELETE /api/keys/{id}"] = "----+",
        ["POST /api/facts"] = "-++++",
        ["POST /api/facts/batch"] = "-++++",
        ["GET /api/facts/{factId}"] = "-++++",
        ["POST /api/history"] = "----+",
        ["POST /api/rebuilds"] = "----+",
        ["GET /api/rebuilds"] = "----+",
        ["POST /api/master-data"] = "---++",
        ["GET /api/sites"] = "-++++",
        ["GET /api/stations"] = "-++++",
        ["GET /api/stations/{code}"] = "-++++",
        ["GET /api/defects"] = "-++++",
        ["GET /api/items"] = "-++++",
        ["GET /api/items/{code}"] = "-++++",
        ["GET /api/tools"] = "-++++",
        ["GET /api/tools/{code}"] = "-++++",
        ["GET /api/tools/{tool}/life"] = "-++++",
        ["GET /api/tools/{tool}/capability"] = "-++++",
        ["GET /api/tools/{tool}/drift"] = "-++++",
        ["GET /api/tools/{tool}/uses"] = "-++++",
        ["GET /api/people"] = "-++++",
        ["GET /api/people/{code}"] = "-++++",
        ["GET /api/people/qualifications"] = "-++++",
        ["GET /api/units"] = "-++++",
        ["GET /api/units/{item}/{serial}"] = "-++++",
        ["GET /api/units/{item}/{serial}/build-record"] = "-++++",
        ["GET /api/units/{item}/{serial}/structure"] = "-++++",
        ["GET /api/units/{item}/{serial}/release"] = "-++++",
        ["POST /api/units/{item}/{serial}/release"] = "--+-+",
        ["PUT /api/people/{person}/signing-secret"] = "--+-+",
        ["DELETE /api/people/{person}/signing-secret"] = "--+-+",
        ["POST /api/units/{item}/{serial}/steps/{step}/readiness"] = "-++++",
        ["GET /api/lots/{item}"] = "-++++",
        ["GET /api/lots/{item}/{lot}"] = "-++++",
        ["GET /api/batches/{item}/{batch}"] = "-++++",
        ["GET /api/lots/{item}/{lot}/lineage"] = "-++++",
        ["GET /api/lots/{item}/{lot}/balance"] = "-++++",
        ["GET /api/lots/dispersion"] = "-++++",
        ["GET /api/lots/{item}/{lot}/dispersion"] = "-++++",
        ["GET /api/lots/{item}/{lot}/reconciliation"] = "-++++",
        ["POST /api/scopes/narrowing"] = "-++++",
        ["GET /api/supplier-lots"] = "-++++",
        ["GET /api/supplier-lots/scope"] = "-++++",
        ["GET /api/lots/{item}/{lot}/scope"] = "-++++",
        ["GET /api/lots/{item}/{lot}/containers/{container}/scope"] = "-++++",
        ["POST /api/scopes"] = "-++++",
        ["GET /api/scopes"] = "-++++",
        ["GET /api/scopes/{name}"] = "-++++",
        ["GET /api/scopes/{name}/members"] = "-++++",
        ["PUT /api/scopes/{name}"] = "--+-+",
        ["DELETE /api/scopes/{name}"] = "--+-+",
        ["GET /api/routings/{code}"] = "-++++",
        ["GET /api/routings/{item}/{revision}"] = "-++++",
        ["GET /api/routings/{item}/differences"] = "-++++",
        ["GET /api/routings/{item}/effectivity"] = "-++++",
        ["POST /api/routings/{item}/move-plans"] = "-++++",
        ["POST /api/units/{item}/{serial}/steps/{step}/fits"] = "-++++",
        ["POST /api/shared-factors"] = "-++++",
        ["GET /api/shipments"] = "-++++",
        ["POST /api/shipments"] = "--+-+",
        ["GET /api/intervals/open"] = "-++++",
        ["GET /api/intervals/violations"] = "-++++",
        ["GET /api/findings"] = "-++++",
        ["GET /api/findings/counts"] = "-++++",
        ["GET /api/nonconformances"] = "-++++",
        ["POST /api/containments"] = "--+-+",
        ["GET /api/containments"] = "-++++",
        ["GET /api/containments/{id}"] = "-++++",
        ["GET /api/containments/{id}/members"] = "-++++",
        ["GET /api/containments/{id}/consignees"] = "-++++",
        ["GET /api/containments/{id}/report"] = "-++++",
        ["POST /api/containments/{id}/refresh"] = "--+-+",
        ["POST /api/containments/{id}/holds"] = "--+-+",
        ["GET /api/nonconformances/{item}/{serial}/{id}"] = "-++++",
        ["POST /api/attachments"] = "-++++",
        ["GET /api/attachments/{hash}"] = "-++++",
        ["GET /api/yield/steps"] = "-++++",
        ["GET /api/yield/units"] = "-++++",
        ["GET /api/yield/throughput"] = "-++++",
        ["GET /api/alarms"] = "-++++",
    };

    [Fact]
    public void Every_endpoint_is_in_the_table_and_nothing_else_is()
    {
        var there = Endpoints().Select(e => e.Name).Order(StringComparer.Ordinal).ToArray();

        Assert.Equal(string.Join('\n', Table.Keys.Order(StringComparer.Ordinal)), string.Join('\n', there));
    }

    [Fact]
    public async Task Each_role_may_use_exactly_what_the_table_says()
    {
        List<string> wrong = [];
        foreach (var (name, method, path) in Endpoints().Where(e => Table.ContainsKey(e.Name)))
        {
            var row = Table[name];
            for (var column = 0; column < row.Length; column++)
            {
                var role = column == 0 ? string.Empty : Roles[column - 1];
                using var request = new HttpRequestMessage(method, path);
                if (method != HttpMethod.Get && method != HttpMethod.Delete)
                {
                    // Malformed on purpose: who may not is refused before the body is read, who may is told what is wrong with it.
                    request.Content = new StringContent("[", Encoding.UTF8, path is "/api/facts/batch" or "/api/history" ? "application/x-ndjson" : path is "/api/attachments" ? "image/png" : "application/json");
                }

                using var answer = await fixture.Host.Client(role).SendAsync(request);
                var expected = (row[column], column) switch
                {
                    ('+', _) => "allowed",
                    (_, 0) => nameof(HttpStatusCode.Unauthorized),
                    _ => nameof(HttpStatusCode.Forbidden),
                };
                var actual = answer.StatusCode is HttpStatusCode.Unauthorized or HttpStatusCode.Forbidden ? answer.StatusCode.ToString() : "allowed";
                if (expected != actual || answer.StatusCode == HttpStatusCode.InternalServerError)
                {
                    wrong.Add($"{name} as {(role.Length == 0 ? "nobody" : role)}: {(int)answer.StatusCode}, expected {expected}");
                }
            }
        }

        Assert.True(wrong.Count == 0, string.Join('\n', wrong));
    }

    private IEnumerable<(string Name, HttpMethod Method, string Path)> Endpoints()
    {
        foreach (var endpoint in ((IEndpointRouteBuilder)fixture.Host.App).DataSources.SelectMany(s => s.Endpoints).OfType<RouteEndpoint>())
        {
            // The endpoint of the metrics library takes any method; it is asked as a collector asks.
            var methods = endpoint.Metadata.GetMetadata<IHttpMethodMetadata>()?.HttpMethods ?? ["GET"];
            var pattern = "/" + endpoint.RoutePattern.RawText!.Trim('/');
            foreach (var method in methods)
            {
                yield return ($"{method} {pattern}", HttpMethod.Parse(method), Filled(endpoint.RoutePattern));
            }
        }
    }

    private static string Filled(RoutePattern pattern) => "/" + string.Join('/', pattern.PathSegments.Select(segment => string.Concat(segment.Parts.Select(part => part switch
    {
        RoutePatternLiteralPart literal => literal.Content,
        RoutePatternParameterPart { ParameterPolicies.Count: > 0 } => "0b7c1b1e-7d0f-4f1a-9a57-2d6c3c0e9a11",
        _ => "X-1",
    }))));
}
