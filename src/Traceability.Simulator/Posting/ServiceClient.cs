using System.Globalization;
using System.Net;
using System.Net.Http.Headers;
using System.Text;
using System.Text.Json;
using Traceability.Contracts;
using Traceability.Contracts.Shipments;
using Traceability.Simulator.Plant;

namespace Traceability.Simulator.Posting;

/// <summary>How the service answered one fact.</summary>
/// <param name="Status">The status, as of a single post; 0 if there was no answer for it.</param>
/// <param name="Code">The problem's code; null if it was accepted.</param>
/// <param name="Detail">The problem's detail.</param>
public sealed record FactAnswer(int Status, string? Code, string? Detail)
{
    /// <summary>Whether the fact is recorded, now or before.</summary>
    public bool IsAccepted => Status is >= 200 and < 300;

    /// <summary>Whether it was refused because something that it names, or rests on, has not arrived yet.</summary>
    public bool IsUnknown => Code is not null && (Code.Contains("unknown", StringComparison.Ordinal) || Code is "step-not-in-routing" or "person-not-qualified");
}

/// <summary>An access key as it was made.</summary>
/// <param name="Id">Names it; with it it is revoked.</param>
/// <param name="Secret">The key itself.</param>
public sealed record AccessKey(Guid Id, string Secret);

/// <summary>A release by signature, as it is asked for.</summary>
/// <param name="FactId">The id that the sender gives it.</param>
/// <param name="Person">Who signs.</param>
/// <param name="Secret">The signer's secret.</param>
/// <param name="Meaning">What the signature means.</param>
/// <param name="Station">Where.</param>
public sealed record SignedRelease(Guid FactId, string Person, string Secret, string Meaning, string Station);

/// <summary>Speaks HTTP with the service as a terminal does: one try after another with the same ids until it answers.</summary>
public sealed class ServiceClient(HttpClient http, TimeProvider time)
{
    private const int TriesMax = 12;
    private static readonly TimeSpan FirstWait = TimeSpan.FromMilliseconds(100);

    /// <summary>Posts one fact.</summary>
    public async Task<FactAnswer> PostAsync(string json, string key, TimeSpan clockError, CancellationToken cancellation = default)
    {
        using var response = await SendAsync(
            () => Request(HttpMethod.Post, "api/facts", key, clockError, json, "application/json"), cancellation).ConfigureAwait(false);
        var text = await response.Content.ReadAsStringAsync(cancellation).ConfigureAwait(false);
        return response.IsSuccessStatusCode ? new((int)response.StatusCode, null, null) : Refused((int)response.StatusCode, text);
    }

    /// <summary>Posts several facts as one batch; one answer for each, in order.</summary>
    public async Task<IReadOnlyList<FactAnswer>> PostBatchAsync(
        IReadOnlyList<string> lines, string key, TimeSpan clockError, CancellationToken cancellation = default)
    {
        var body = string.Join('\n', lines) + "\n";
        using var response = await SendAsync(
            () => Request(HttpMethod.Post, "api/facts/batch", key, clockError, body, "application/x-ndjson"), cancellation).ConfigureAwait(false);
        var text = await response.Content.ReadAsStringAsync(cancellation).ConfigureAwait(false);
        if (!response.IsSuccessStatusCode)
        {
            var refused = Refused((int)response.StatusCode, text);
            return [.. lines.Select(_ => refused)];
        }

        var answers = text.Split('\n', StringSplitOptions.RemoveEmptyEntries).Select(ReadLine).ToList();
        while (answers.Count < lines.Count)
        {
            answers.Add(new(0, "no-answer", "The answer has fewer lines than the batch."));
        }

        return answers;
    }

    /// <summary>Asks for something; null if it isn't there.</summary>
    public async Task<string?> GetAsync(string path, string key, CancellationToken cancellation = default)
    {
        using var response = await SendAsync(() => Request(HttpMethod.Get, path, key, TimeSpan.Zero, null, null), cancellation).ConfigureAwait(false);
        if (response.StatusCode == HttpStatusCode.NotFound)
        {
            return null;
        }

        var text = await response.Content.ReadAsStringAsync(cancellation).ConfigureAwait(false);
        return response.IsSuccessStatusCode ? text : throw new InvalidOperationException($"The service did not answer {path}: {(int)response.StatusCode} {text}");
    }

    /// <summary>Stores a file that facts will name.</summary>
    public async Task StoreAsync(Evidence file, string key, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(file);
        using var response = await SendAsync(
            () => Request(HttpMethod.Post, "api/attachments", key, TimeSpan.Zero, file.Content, file.MediaType), cancellation).ConfigureAwait(false);
        if (!response.IsSuccessStatusCode)
        {
            throw new InvalidOperationException($"The service did not store a file: {(int)response.StatusCode} {await response.Content.ReadAsStringAsync(cancellation).ConfigureAwait(false)}");
        }
    }

    /// <summary>Sets the secret with which a person signs.</summary>
    public async Task SetSigningSecretAsync(string person, string secret, string key, CancellationToken cancellation = default)
    {
        var body = JsonSerializer.Serialize(new Dictionary<string, string>(StringComparer.Ordinal) { ["secret"] = secret });
        using var response = await SendAsync(
            () => Request(HttpMethod.Put, $"api/people/{person}/signing-secret", key, TimeSpan.Zero, body, "application/json"), cancellation).ConfigureAwait(false);
        if (!response.IsSuccessStatusCode)
        {
            throw new InvalidOperationException($"The service did not set the signing secret of {person}: {(int)response.StatusCode}");
        }
    }

    /// <summary>Releases a unit under a person's signature.</summary>
    public Task<FactAnswer> ReleaseAsync(string unit, SignedRelease release, string key, CancellationToken cancellation = default) =>
        DecideAsync($"api/units/{unit}/release", release, key, cancellation);

    /// <summary>Lets several units leave by one decision.</summary>
    public Task<FactAnswer> ShipAsync(ShipmentRequest shipment, string key, CancellationToken cancellation = default) =>
        DecideAsync("api/shipments", shipment, key, cancellation);

    private async Task<FactAnswer> DecideAsync<T>(string path, T decision, string key, CancellationToken cancellation)
    {
        var body = JsonSerializer.Serialize(decision, WireJson.Options);
        using var response = await SendAsync(
            () => Request(HttpMethod.Post, path, key, TimeSpan.Zero, body, "application/json"), cancellation).ConfigureAwait(false);
        return response.IsSuccessStatusCode
            ? new((int)response.StatusCode, null, null)
            : Refused((int)response.StatusCode, await response.Content.ReadAsStringAsync(cancellation).ConfigureAwait(false));
    }

    /// <summary>Revokes an access key.</summary>
    public async Task RevokeKeyAsync(string adminKey, Guid id, CancellationToken cancellation = default)
    {
        using var response = await SendAsync(
            () => Request(HttpMethod.Delete, $"api/keys/{id}", adminKey, TimeSpan.Zero, null, null), cancellation).ConfigureAwait(false);
        if (!response.IsSuccessStatusCode)
        {
            throw new InvalidOperationException($"The service did not revoke key {id}: {(int)response.StatusCode}");
        }
    }

    /// <summary>Makes an access key; null if there is or was one of that name.</summary>
    public async Task<AccessKey?> CreateKeyAsync(string adminKey, string name, string role, string? station, CancellationToken cancellation = default)
    {
        var body = new Dictionary<string, string>(StringComparer.Ordinal) { ["name"] = name, ["role"] = role };
        if (station is not null)
        {
            body["station"] = station;
        }

        using var response = await SendAsync(
            () => Request(HttpMethod.Post, "api/keys", adminKey, TimeSpan.Zero, JsonSerializer.Serialize(body), "application/json"), cancellation)
            .ConfigureAwait(false);
        var text = await response.Content.ReadAsStringAsync(cancellation).ConfigureAwait(false);
        if (response.StatusCode == HttpStatusCode.Conflict)
        {
            return null;
        }

        if (!response.IsSuccessStatusCode)
        {
            throw new InvalidOperationException($"The service made no key '{name}': {(int)response.StatusCode} {text}");
        }

        using var document = JsonDocument.Parse(text);
        return new(
            document.RootElement.GetProperty("id").GetGuid(),
            document.RootElement.GetProperty("key").GetString() ?? throw new InvalidOperationException($"The service's answer for key '{name}' holds no key."));
    }

    // One line is either a receipt or a problem; both say their status.
    private static FactAnswer ReadLine(string line)
    {
        using var document = JsonDocument.Parse(line);
        var root = document.RootElement;
        var status = root.TryGetProperty("status", out var s) && s.ValueKind == JsonValueKind.Number ? s.GetInt32() : 0;
        return status is >= 200 and < 300 ? new(status, null, null) : Refused(status, line);
    }

    private static FactAnswer Refused(int status, string text)
    {
        try
        {
            using var document = JsonDocument.Parse(text);
            var root = document.RootElement.TryGetProperty("problem", out var nested) ? nested : document.RootElement;
            return new(status, Text(root, "code") ?? "refused", Text(root, "detail"));
        }
        catch (JsonException)
        {
            return new(status, "refused", text);
        }
    }

    private static string? Text(JsonElement element, string name) =>
        element.ValueKind == JsonValueKind.Object && element.TryGetProperty(name, out var value) && value.ValueKind == JsonValueKind.String
            ? value.GetString()
            : null;

    private static bool IsPassing(HttpStatusCode status) => status is HttpStatusCode.TooManyRequests or HttpStatusCode.ServiceUnavailable;

    private HttpRequestMessage Request(HttpMethod method, string path, string key, TimeSpan clockError, string? body, string? mediaType)
    {
        var request = new HttpRequestMessage(method, new Uri(path, UriKind.Relative))
        {
            Content = body is null ? null : new StringContent(body, Encoding.UTF8, mediaType!),
        };
        request.Headers.Authorization = new AuthenticationHeaderValue("Bearer", key);
        var sent = time.GetUtcNow() + clockError;
        request.Headers.Add("Sent-At", sent.ToString("O", CultureInfo.InvariantCulture));
        return request;
    }

    private async Task<HttpResponseMessage> SendAsync(Func<HttpRequestMessage> make, CancellationToken cancellation)
    {
        var wait = FirstWait;
        for (var attempt = 1; ; attempt++)
        {
            try
            {
                using var request = make();
                var response = await http.SendAsync(request, cancellation).ConfigureAwait(false);
                if (attempt == TriesMax || !IsPassing(response.StatusCode))
                {
                    return response;
                }

                wait = response.Headers.RetryAfter?.Delta is { } asked && asked > wait ? asked : wait;
                response.Dispose();
            }
            catch (Exception e) when (attempt < TriesMax && !cancellation.IsCancellationRequested && e is HttpRequestException or TaskCanceledException)
            {
                // The connection broke: whether the facts were stored is not known, and the ids make asking again harmless.
            }

            await Task.Delay(wait, time, cancellation).ConfigureAwait(false);
            wait = wait < TimeSpan.FromSeconds(5) ? wait * 2 : wait;
        }
    }
}
