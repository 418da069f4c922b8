using System.Net.Http.Headers;
using System.Text;
using System.Text.Json;
using Traceability.Testing;

namespace Traceability.Acceptance.Robustness;

/// <summary>Sends bad requests and gathers what is wrong with the answers.</summary>
internal sealed class RefusalCheck(ServiceHost host)
{
    private static readonly Lazy<HashSet<string>> Codes = new(ReadCodes);

    /// <summary>What is tried, for the message.</summary>
    public string What { get; set; } = string.Empty;

    /// <summary>How many were tried.</summary>
    public int Tried { get; private set; }

    /// <summary>What is wrong, a line each.</summary>
    public List<string> Wrong { get; } = [];

    /// <summary>Sends an endpoint a request that it must refuse so; a null code: any that is listed.</summary>
    public Task RefusedAsync(Expectation endpoint, string path, string body, int status, string? code, params string[] pointers) =>
        RefusedAsync(endpoint, path, endpoint.MediaType is null ? null : new ByteArrayContent(Encoding.UTF8.GetBytes(body)), endpoint.MediaType, status, code, pointers);

    /// <summary>The same with a content of any kind.</summary>
    public async Task RefusedAsync(Expectation endpoint, string path, HttpContent? content, string? mediaType, int status, string? code, params string[] pointers)
    {
        using var request = new HttpRequestMessage(endpoint.Method, new Uri(host.Address, path)) { Content = content };
        if (content is not null && mediaType is not null)
        {
            content.Headers.ContentType = new MediaTypeHeaderValue(mediaType);
        }

        // A body that is refused by its length need not be sent.
        request.Headers.ExpectContinue = content is not null;
        await RefusedAsync(request, status, code, pointers);
    }

    /// <summary>Sends a request that must be refused so.</summary>
    public async Task RefusedAsync(HttpRequestMessage request, int status, string? code, params string[] pointers)
    {
        using var answer = await host.Admin.SendAsync(request);
        var text = await answer.Content.ReadAsStringAsync();
        var name = $"{request.Method} {Shown(request.RequestUri!.IsAbsoluteUri ? request.RequestUri.PathAndQuery : request.RequestUri.ToString())} {What}";
        if (answer.Content.Headers.ContentType?.MediaType != "application/problem+json")
        {
            Tried++;
            Wrong.Add($"{name}: {(int)answer.StatusCode} {answer.Content.Headers.ContentType}, expected {status} and a problem. {Shown(text)}");
            return;
        }

        using var problem = JsonDocument.Parse(text);
        Same(status, (int)answer.StatusCode, problem.RootElement, code, pointers, name);
    }

    /// <summary>Checks a problem.</summary>
    public void Same(int status, int actual, JsonElement problem, string? code, string[] pointers, string? name = null)
    {
        Tried++;
        var told = problem.TryGetProperty("code", out var c) ? c.GetString() ?? string.Empty : string.Empty;
        var places = problem.TryGetProperty("errors", out var errors) ? errors.EnumerateArray().Select(e => e.GetProperty("pointer").GetString()!).ToArray() : [];
        var isRight = actual == status
            && problem.GetProperty("status").GetInt32() == status
            && (code is null || string.Equals(code, told, StringComparison.Ordinal))
            && Codes.Value.Contains(told)
            && string.Equals(problem.GetProperty("type").GetString(), $"/problems/{told}", StringComparison.Ordinal)
            && problem.GetProperty("title").GetString() is { Length: > 0 }
            && problem.GetProperty("detail").GetString() is { Length: > 0 }
            && pointers.All(p => places.Contains(p, StringComparer.Ordinal));
        if (!isRight)
        {
            Wrong.Add($"{name ?? What}: {actual} {told} [{string.Join(' ', places)}], expected {status} {code} [{string.Join(' ', pointers)}]. {Shown(problem.GetRawText())}");
        }
    }

    private static string Shown(string text) => text.Length > 260 ? text[..260] + "..." : text;

    private static HashSet<string> ReadCodes()
    {
        var folder = new DirectoryInfo(AppContext.BaseDirectory);
        while (!File.Exists(Path.Combine(folder.FullName, "Traceability.sln")))
        {
            folder = folder.Parent ?? throw new DirectoryNotFoundException("No folder above holds Traceability.sln.");
        }

        using var file = JsonDocument.Parse(File.ReadAllText(Path.Combine(folder.FullName, "contracts", "problems.json")));
        return [.. file.RootElement.EnumerateArray().Select(p => p.GetProperty("code").GetString()!)];
    }
}
