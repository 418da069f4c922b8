using System.Net.Http.Json;
using System.Text.Json;
using Traceability.Acceptance.Robustness;
using Traceability.Contracts;
using Traceability.Testing;

namespace Traceability.Acceptance.Releases;

/// <summary>Lamps that are complete but for their release, and the ways to ask for it.</summary>
/// <param name="host">The service.</param>
/// <param name="seed">Chooses the ids.</param>
internal sealed class Lamps(ServiceHost host, ulong seed)
{
    /// <summary>The secret of P-9, who releases.</summary>
    public const string Secret = "öffne nichts, was klebt";

    public LampWorks Works { get; } = new(seed, LampWorks.DaysAgo(6));

    /// <summary>Tells what lamps are built by, and gives P-9 a name and a secret.</summary>
    public async Task DefineAsync()
    {
        await TellAsync([.. Works.Definitions(), Works.Define("person-defined", -700, """ "subject":"P-9","displayName":"Noor Hale" """)]);
        await SetSecretAsync(Secret);
    }

    public async Task SetSecretAsync(string secret)
    {
        using var answer = await host.Quality.PutAsJsonAsync("/api/people/P-9/signing-secret", new { secret });
        Assert.Equal(System.Net.HttpStatusCode.NoContent, answer.StatusCode);
    }

    /// <summary>A head with a serial, released as heads are reported to be.</summary>
    public Sent[] Head(int serial, double at, bool isReleased = true) =>
    [
        Works.Fact("unit-opened", at - 70, LampWorks.Unit("HEAD", serial)),
        Works.Fact("step-completed", at - 60, LampWorks.Unit("HEAD", serial) + ""","step":"BOND","materials":[{"item":"ADH","lots":["L1"],"requirement":"GLUE"}],"measurements":[{"characteristic":"RIM","value":2,"unit":"mm"}]"""),
        Works.Fact("step-completed", at - 40, LampWorks.Unit("HEAD", serial) + $$""","step":"TRY","startedAt":"{{Works.Time(at - 41)}}","checks":[{"characteristic":"OK","passed":true}]"""),
        .. isReleased ? [Works.Fact("unit-released", at - 30, LampWorks.Unit("HEAD", serial))] : Array.Empty<Sent>(),
    ];

    /// <summary>A lamp up to its last test, with head of the same serial.</summary>
    public Sent[] Complete(int serial, double at) =>
    [
        .. Head(serial, at),
        .. Works.SimpleLamp(serial, at),
        Works.Fact("step-completed", at + 22, LampWorks.Unit("LAMP", serial) + $$$""","step":"MARRY","startedAt":"{{{Works.Time(at + 20)}}}","components":[{"position":"HEAD","component":{"item":"HEAD","serial":"{{{serial}}}"}}]"""),
        Works.Fact("step-completed", at + 24, LampWorks.Unit("LAMP", serial) + ""","step":"SCREW","tools":[{"tool":"SD-1","setting":"5"}]"""),
        Works.Fact("step-completed", at + 30, LampWorks.Unit("LAMP", serial) + $$""","step":"CLOSE","startedAt":"{{Works.Time(at + 28)}}" """),
        Test(serial, at + 40),
    ];

    public Sent Test(int serial, double at, bool passed = true) => Works.Fact(
        "step-completed",
        at,
        LampWorks.Unit("LAMP", serial) + $$""","step":"TEST","startedAt":"{{Works.Time(at - 2)}}","checks":[{"characteristic":"OK","passed":{{(passed ? "true" : "false")}}}],"measurements":[{"characteristic":"GAP","value":1.0,"unit":"mm"}]""");

    public Task TellAsync(params Sent[] facts) => Robustness.Terminal.PostAllAsync(host.Admin, facts, batch: facts.Length);

    public Task<(int Status, JsonElement Body)> ReleaseAsync(int serial, Guid id, string secret = Secret, string meaning = "released", string item = "LAMP", HttpClient? by = null) =>
        SendAsync((by ?? host.Quality).PostAsJsonAsync($"/api/units/{item}/{serial}/release", new { factId = id, person = "P-9", secret, meaning }));

    public static async Task<(int Status, JsonElement Body)> SendAsync(Task<HttpResponseMessage> sent)
    {
        using var answer = await sent;
        return ((int)answer.StatusCode, JsonDocument.Parse(await answer.Content.ReadAsStringAsync()).RootElement);
    }

    /// <summary>Posts a JSON text by a key.</summary>
    public static Task<(int Status, JsonElement Body)> SendAsAsync(HttpClient by, string path, string body) =>
        SendAsync(by.PostAsync(new Uri(path, UriKind.Relative), body.Length == 0 ? null : new StringContent(body, System.Text.Encoding.UTF8, "application/json")));

    public async Task<T> AskAsync<T>(string path)
    {
        using var answer = await host.Quality.GetAsync(new Uri(path, UriKind.Relative));
        var text = await answer.Content.ReadAsStringAsync();
        Assert.True(answer.IsSuccessStatusCode, text);
        return JsonSerializer.Deserialize<T>(text, WireJson.Options)!;
    }
}
