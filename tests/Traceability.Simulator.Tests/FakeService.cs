using System.Net;
using System.Text.Json;
using Traceability.Simulator.Plant;

namespace Traceability.Simulator.Tests;

/// <summary>Answers as the service does, as far as posting goes: knows units and records by what arrived, fails now and then.</summary>
internal sealed class FakeService(TimeProvider time) : HttpMessageHandler
{
    private readonly Lock _gate = new();
    private readonly SplitMix _random = new(9);

    /// <summary>The ids in the order in which they were first accepted.</summary>
    public List<Guid> Accepted { get; } = [];

    /// <summary>Facts posted, repeats counted too.</summary>
    public int Posted { get; private set; }

    /// <summary>For each accepted fact: the key and the clock's error by its header.</summary>
    public Dictionary<Guid, (string Key, TimeSpan Error)> SentBy { get; } = [];

    /// <summary>So many of ten thousand requests get 503 or break: half before and half after the work was done.</summary>
    public int FaultsInTenThousand { get; init; }

    /// <summary>A fact that is always refused.</summary>
    public Guid Refused { get; init; }

    private HashSet<string> Known { get; } = new(StringComparer.Ordinal);

    protected override async Task<HttpResponseMessage> SendAsync(HttpRequestMessage request, CancellationToken cancellationToken)
    {
        var body = await request.Content!.ReadAsStringAsync(cancellationToken);
        lock (_gate)
        {
            if (_random.Chance(FaultsInTenThousand))
            {
                return _random.Chance(5_000) ? new(HttpStatusCode.ServiceUnavailable) : throw new HttpRequestException("The connection broke before.");
            }

            var answers = body.Split('\n', StringSplitOptions.RemoveEmptyEntries).Select(line => Take(line, request)).ToList();
            if (_random.Chance(FaultsInTenThousand))
            {
                throw new HttpRequestException("The connection broke after.");
            }

            return request.RequestUri!.AbsolutePath.EndsWith("/batch", StringComparison.Ordinal)
                ? new(HttpStatusCode.OK) { Content = new StringContent(string.Join('\n', answers.Select(a => Line(a.Status, a.Code)))) }
                : new((HttpStatusCode)answers[0].Status) { Content = new StringContent($$"""{"code":"{{answers[0].Code}}"}""") };
        }
    }

    private static string Line(int status, string? code) =>
        code is null ? $$"""{"line":1,"status":{{status}}}""" : $$$"""{"line":1,"status":{{{status}}},"problem":{"code":"{{{code}}}"}}""";

    private (int Status, string? Code) Take(string line, HttpRequestMessage request)
    {
        Posted++;
        using var document = JsonDocument.Parse(line);
        var root = document.RootElement;
        var id = root.GetProperty("factId").GetGuid();
        if (id == Refused)
        {
            return (400, "fact-malformed");
        }

        if (Known.Contains(id.ToString()))
        {
            return (200, null);
        }

        var unit = root.TryGetProperty("unit", out var u) ? $"{u.GetProperty("item")}/{u.GetProperty("serial")}" : null;
        var isOpening = root.GetProperty("type").GetString() == "unit-opened";
        if ((unit is not null && !isOpening && !Known.Contains(unit))
            || (root.TryGetProperty("record", out var record) && !Known.Contains(record.GetString()!)))
        {
            return (404, unit is null ? "record-unknown" : "unit-unknown");
        }

        Known.Add(id.ToString());
        Known.Add(unit ?? string.Empty);
        Accepted.Add(id);
        var sentAt = DateTimeOffset.Parse(request.Headers.GetValues("Sent-At").Single(), System.Globalization.CultureInfo.InvariantCulture);
        SentBy[id] = (request.Headers.Authorization!.Parameter!, sentAt - time.GetUtcNow());
        return (201, null);
    }
}
