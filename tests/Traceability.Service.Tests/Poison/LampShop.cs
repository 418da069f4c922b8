using System.Net;
using System.Text;
using System.Text.Json;
using Npgsql;
using Traceability.Service.Tests.ContractTests;
using Traceability.Testing;
using Traceability.Testing.Building;

namespace Traceability.Service.Tests.Poison;

/// <summary>The tutorial's hand lamps in a running service, with ways to damage what is stored.</summary>
internal sealed class LampShop : IAsyncDisposable
{
    /// <summary>The longest that an alarm may take.</summary>
    public static readonly TimeSpan AlarmMax = TimeSpan.FromSeconds(30);

    private int _facts;

    private LampShop(ServiceHost host) => Host = host;

    public ServiceHost Host { get; }

    public static async Task<LampShop> StartAsync(params string[] settings)
    {
        var host = await ServiceHost.StartAsync(["--EventCheck:Pause=00:00:00.2", .. settings]);
        var shop = new LampShop(host);
        var file = await File.ReadAllTextAsync(Path.Combine(Repository.Contracts, "..", "docs", "tutorial", "lamp.yaml"));
        using var content = new StringContent(file, Encoding.UTF8, "application/yaml");
        using var answer = await host.Admin.PostAsync("/api/master-data", content);
        answer.EnsureSuccessStatusCode();
        return shop;
    }

    /// <summary>Opens a unit and bonds it with a lot.</summary>
    public async Task BuildAsync(string serial, string lot, string person = "TOUR-P1")
    {
        await PostAsync($$"""{"type":"unit-opened","occurredAt":"2026-03-02T09:00:00Z","station":"TOUR-1","unit":{"item":"TOUR-LAMP","serial":"{{serial}}"} }""");
        await PostAsync(
            $$"""
            {"type":"step-completed","occurredAt":"2026-03-02T09:10:00Z","startedAt":"2026-03-02T09:05:00Z","station":"TOUR-1","person":"{{person}}",
             "unit":{"item":"TOUR-LAMP","serial":"{{serial}}"},"step":"BOND","materials":[{"item":"TOUR-GLUE","lots":["{{lot}}"]}]}
            """);
    }

    /// <summary>Closes a unit, which uses the driver.</summary>
    public Task CloseAsync(string serial) => PostAsync(
        $$"""
        {"type":"step-completed","occurredAt":"2026-03-02T10:00:00Z","startedAt":"2026-03-02T09:58:00Z","station":"TOUR-1","person":"TOUR-P1",
         "unit":{"item":"TOUR-LAMP","serial":"{{serial}}"},"step":"CLOSE","tools":[{"tool":"TOUR-SD1","setting":"4"}],"measurements":[{"characteristic":"GAP","value":0.12,"unit":"mm"}]}
        """);

    public async Task<HttpStatusCode> TryPostAsync(string fact)
    {
        using var content = new StringContent(fact.Insert(1, $"\"factId\":\"{Some.Id(50_000 + ++_facts)}\","), Encoding.UTF8, "application/json");
        using var answer = await Host.Admin.PostAsync("/api/facts", content);
        return answer.StatusCode;
    }

    public async Task PostAsync(string fact) => Xunit.Assert.Equal(HttpStatusCode.Created, await TryPostAsync(fact));

    public async Task<JsonElement> AskAsync(string address)
    {
        using var answer = await Host.Quality.GetAsync($"/api/{address}");
        var text = await answer.Content.ReadAsStringAsync();
        Xunit.Assert.True(answer.IsSuccessStatusCode, $"{address}: {text}");
        return JsonSerializer.Deserialize<JsonElement>(text);
    }

    public async Task<JsonElement> ReadinessAsync(string serial, string step, string body)
    {
        using var content = new StringContent(body, Encoding.UTF8, "application/json");
        using var answer = await Host.Quality.PostAsync($"/api/units/TOUR-LAMP/{serial}/steps/{step}/readiness", content);
        answer.EnsureSuccessStatusCode();
        return JsonSerializer.Deserialize<JsonElement>(await answer.Content.ReadAsStringAsync());
    }

    /// <summary>Stores an event past the service, as another version of it or a person with a database client would.</summary>
    public async Task<Guid> StoreAsync(string stream, string name, string json)
    {
        var id = Some.Id(90_000 + ++_facts);
        await ExecuteAsync(
            """
            with s as (
              insert into events.mt_streams as s (id, version, timestamp, created) values ($1, 1, now(), now())
              on conflict (id) do update set version = s.version + 1 returning version)
            insert into events.mt_events (seq_id, id, stream_id, version, data, type, timestamp, mt_dotnet_type)
            select nextval('events.mt_events_sequence'), $2, $1, s.version, $3::jsonb, $4, now(), 'none' from s
            """,
            stream,
            id,
            json,
            name);
        return id;
    }

    public async Task<int> ExecuteAsync(string sql, params object[] values)
    {
        await using var command = Host.Database.CreateCommand(sql);
        foreach (var value in values)
        {
            command.Parameters.Add(new NpgsqlParameter { Value = value });
        }

        return await command.ExecuteNonQueryAsync();
    }

    public async Task<T> ScalarAsync<T>(string sql)
    {
        await using var command = Host.Database.CreateCommand(sql);
        return (T)(await command.ExecuteScalarAsync())!;
    }

    /// <summary>Waits until it holds; fails after the time in which an alarm must have come.</summary>
    public static async Task WithinAsync(Func<Task<bool>> holds, string what)
    {
        var clock = System.Diagnostics.Stopwatch.StartNew();
        while (!await holds())
        {
            Xunit.Assert.True(clock.Elapsed < AlarmMax, $"Not within {AlarmMax.TotalSeconds} s: {what}");
            await Task.Delay(50);
        }
    }

    /// <summary>The alarm of a kind; undefined if it doesn't stand.</summary>
    public async Task<JsonElement> AlarmAsync(string kind) =>
        (await AskAsync("alarms")).GetProperty("alarms").EnumerateArray().FirstOrDefault(a => a.GetProperty("kind").GetString() == kind);

    public Task AlarmComesAsync(string kind) => WithinAsync(async () => (await AlarmAsync(kind)).ValueKind == JsonValueKind.Object, $"alarm {kind}");

    public Task AlarmGoesAsync(string kind) => WithinAsync(async () => (await AlarmAsync(kind)).ValueKind == JsonValueKind.Undefined, $"end of alarm {kind}");

    /// <summary>Waits until nothing waits to be judged again.</summary>
    public Task SettledAsync() => WithinAsync(async () => await ScalarAsync<long>("select count(*) from traceability.rejudge") == 0, "rejudge queue empty");

    /// <summary>Every answer about the lamps as a whole, and its completeness.</summary>
    public async Task<Dictionary<string, JsonElement>> ListsAsync()
    {
        string[] lists =
        [
            "lots/TOUR-GLUE/G1/scope",
            "units?item=TOUR-LAMP",
            "findings?item=TOUR-LAMP",
            "findings/counts?item=TOUR-LAMP&from=2026-03-01T00:00:00Z&to=2026-04-01T00:00:00Z",
            "intervals/open?item=TOUR-LAMP",
            "intervals/violations?item=TOUR-LAMP&from=2026-03-01T00:00:00Z&to=2026-04-01T00:00:00Z",
            "yield/steps?item=TOUR-LAMP&from=2026-03-01&to=2026-03-31",
            "yield/units?item=TOUR-LAMP&from=2026-03-01&to=2026-03-31",
            "yield/throughput?item=TOUR-LAMP&from=2026-03-01&to=2026-03-31",
        ];
        var answers = new Dictionary<string, JsonElement>(StringComparer.Ordinal);
        foreach (var list in lists)
        {
            answers[list] = (await AskAsync(list)).GetProperty("completeness");
        }

        return answers;
    }

    public ValueTask DisposeAsync() => Host.DisposeAsync();
}
