using System.Text.Json;
using Traceability.Service;
using Traceability.Service.Http;
using Traceability.Service.Security;
using Xunit;

namespace Traceability.Architecture.Tests;

/// <summary>What other programs rely on is written down, and the code does what is written.</summary>
public sealed class ContractTests
{
    [Fact]
    public async Task Every_endpoint_names_its_policy()
    {
        await using var app = TraceabilityService.Describe([]);
        var endpoints = EndpointPolicies.Of(app).ToArray();

        Assert.NotEmpty(endpoints);
        Assert.Empty(EndpointPolicies.Missing(endpoints));
    }

    [Fact]
    public async Task The_committed_openapi_document_is_that_of_the_code()
    {
        await using var app = TraceabilityService.Describe([]);

        // Written anew by: dotnet Traceability.Service.dll contracts contracts
        Assert.Equal(Repository.Read("contracts/openapi.json"), ContractsCommand.OpenApi(app));
    }

    [Fact]
    public async Task Every_operation_says_what_it_is_and_what_can_go_wrong()
    {
        await using var app = TraceabilityService.Describe([]);
        using var document = JsonDocument.Parse(ContractsCommand.OpenApi(app));
        List<string> wrong = [];
        HashSet<string> ids = new(StringComparer.Ordinal);
        foreach (var path in document.RootElement.GetProperty("paths").EnumerateObject())
        {
            foreach (var operation in path.Value.EnumerateObject())
            {
                wrong.AddRange(Faults(operation.Value, ids).Select(f => $"{operation.Name} {path.Name}: {f}"));
            }
        }

        Assert.NotEmpty(ids);
        Assert.True(wrong.Count == 0, string.Join('\n', wrong));
    }

    [Fact]
    public void Every_kind_of_problem_that_the_service_answers_with_is_in_the_contract() =>
        Assert.Empty(ProblemKind.All.Select(k => k.Code).Except(ProblemCatalogue.Codes, StringComparer.Ordinal));

    private static IEnumerable<string> Faults(JsonElement operation, HashSet<string> ids)
    {
        if (!operation.TryGetProperty("tags", out var tags) || tags.GetArrayLength() != 1)
        {
            yield return "not one tag";
        }

        if (!operation.TryGetProperty("operationId", out var id) || !ids.Add(id.GetString()!))
        {
            yield return "no operationId of its own";
        }

        if (!operation.TryGetProperty("summary", out var summary) || string.IsNullOrWhiteSpace(summary.GetString()))
        {
            yield return "no summary";
        }

        var statuses = operation.GetProperty("responses").EnumerateObject().ToDictionary(r => r.Name, r => r.Value, StringComparer.Ordinal);
        if (!statuses.Keys.Any(s => s[0] == '2'))
        {
            yield return "no answer when it goes well";
        }

        foreach (var status in Expected(operation).Where(s => !statuses.ContainsKey(s)))
        {
            yield return $"no answer {status}";
        }
    }

    private static IEnumerable<string> Expected(JsonElement operation)
    {
        if (operation.TryGetProperty("security", out _))
        {
            yield return "401";
            yield return "403";
        }

        if (operation.TryGetProperty("requestBody", out _))
        {
            yield return "400";
            yield return "413";
            yield return "415";
        }
    }
}
