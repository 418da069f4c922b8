using System.Globalization;
using System.Net.Http.Headers;
using System.Text;
using System.Text.Json;
using Traceability.Contracts;
using Traceability.Testing;

namespace Traceability.Acceptance.Engineering;

/// <summary>Posts facts to a service of its own and asks it, as a person's program would.</summary>
internal sealed class Shop(ServiceHost host)
{
    private int _ids;

    public static async Task<ServiceHost> OpenAsync(string file)
    {
        var host = await ServiceHost.StartAsync();
        using var content = new StringContent(file, Encoding.UTF8, new MediaTypeHeaderValue("application/yaml"));
        using var answer = await host.Admin.PostAsync(new Uri("/api/master-data", UriKind.Relative), content);
        Assert.True(answer.IsSuccessStatusCode, await answer.Content.ReadAsStringAsync());
        return host;
    }

    /// <summary>A fact that is recorded; its id.</summary>
    public async Task<Guid> TellAsync(string members)
    {
        var id = NextId();
        var (status, body) = await SendAsync(Body(id, members));
        Assert.True(status is 200 or 201, body);
        return id;
    }

    /// <summary>The receipt of a fact that is recorded.</summary>
    public async Task<FactReceipt> ReceiptAsync(string members)
    {
        var (status, body) = await SendAsync(Body(NextId(), members));
        Assert.True(status is 200 or 201, body);
        return JsonSerializer.Deserialize<FactReceipt>(body, WireJson.Options)!;
    }

    /// <summary>The code of the problem with which a fact is refused.</summary>
    public async Task<string> RefusedAsync(string members)
    {
        var (status, body) = await SendAsync(Body(NextId(), members));
        Assert.True(status >= 400, body);
        return JsonSerializer.Deserialize<JsonElement>(body).GetProperty("code").GetString()!;
    }

    /// <summary>Posts a body as it is.</summary>
    public async Task<(int Status, string Body)> SendAsync(string json)
    {
        using var content = new StringContent(json, Encoding.UTF8, new MediaTypeHeaderValue("application/json"));
        using var answer = await host.Admin.PostAsync(new Uri("/api/facts", UriKind.Relative), content);
        return ((int)answer.StatusCode, await answer.Content.ReadAsStringAsync());
    }

    public async Task<T> AskAsync<T>(string path)
    {
        using var answer = await host.Admin.GetAsync(new Uri(path, UriKind.Relative));
        return await ReadAsync<T>(answer);
    }

    public async Task<T> AskAsync<T>(string path, string question)
    {
        using var content = new StringContent(question, Encoding.UTF8, new MediaTypeHeaderValue("application/json"));
        using var answer = await host.Admin.PostAsync(new Uri(path, UriKind.Relative), content);
        return await ReadAsync<T>(answer);
    }

    private static async Task<T> ReadAsync<T>(HttpResponseMessage answer)
    {
        var text = await answer.Content.ReadAsStringAsync();
        Assert.True(answer.IsSuccessStatusCode, text);
        return JsonSerializer.Deserialize<T>(text, WireJson.Options)!;
    }

    private static string Body(Guid id, string members) => $$"""{"factId":"{{id}}",{{members}}}""";

    private Guid NextId() => new(string.Create(CultureInfo.InvariantCulture, $"7c1f9a10-0000-4000-8000-{++_ids:000000000000}"));
}
