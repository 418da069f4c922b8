using System.Globalization;
using System.Text;
using System.Text.Json;
using Npgsql;
using Traceability.Service.Storage.Answers;
using Traceability.Service.Tests.ContractTests;
using Traceability.Service.Tests.Poison;
using Traceability.Testing;
using Xunit;

namespace Traceability.Service.Tests.Replicas;

/// <summary>Answers from a streaming replica: what it has not replayed yet is told or asked of the primary, never left out in silence.</summary>
public sealed class ReplicaTests
{
    private static readonly string[] Questions =
    [
        "lots/TOUR-GLUE/G1/scope",
        "units?item=TOUR-LAMP",
        "units/TOUR-LAMP/0001/build-record",
        "findings?item=TOUR-LAMP",
        "findings/counts?item=TOUR-LAMP",
        "intervals/open?item=TOUR-LAMP",
        "intervals/violations?item=TOUR-LAMP",
        "yield/steps?item=TOUR-LAMP",
        "yield/units?item=TOUR-LAMP",
        "yield/throughput?item=TOUR-LAMP",
    ];

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public async Task A_replica_answers_with_its_watermark_and_the_primary_in_its_place_when_it_falls_behind_or_is_gone(bool isPrimaryNamedToo)
    {
        await using var primary = await PlainServer.StartAsync();
        var database = await TestDatabase.CreateOnAsync(primary);
        await using var standby = await primary.StandbyAsync();
        var hosts = isPrimaryNamedToo ? $"{standby.Sockets},{primary.Sockets}" : standby.Sockets;
        await using var host = await ServiceHost.StartOnAsync(
            database, $"--ConnectionStrings:TraceabilityRead={Reading(primary, hosts)}", "--Postgres:ReplicaLagMax=00:00:02");
        await BuildAsync(host, "0001");

        // All well: the replica answers, and the answer tells up to when it holds everything.
        await LampShop.WithinAsync(async () => (await AskAsync(host, Questions[1])).Answer.GetProperty("units").GetArrayLength() == 1, "replayed");
        foreach (var question in Questions)
        {
            var before = (DateTime)(await standby.ExecuteAsync("select clock_timestamp()"))!;
            var (answer, watermark) = await AskAsync(host, question);
            Assert.True(answer.GetProperty("completeness").GetProperty("isComplete").GetBoolean(), question);
            Assert.InRange(TimeProvider.System.GetUtcNow() - watermark, TimeSpan.Zero, TimeSpan.FromSeconds(2.5));
            Assert.True(await IsReadSinceAsync(standby, before), question);
        }

        // Replay stops: within the bound the answer is older and says so; beyond it the primary answers.
        await standby.ExecuteAsync("select pg_wal_replay_pause()");
        await BuildAsync(host, "0002");
        var acknowledged = TimeProvider.System.GetUtcNow();
        var old = false;
        await LampShop.WithinAsync(
            async () =>
            {
                var (answer, watermark) = await AskAsync(host, Questions[1]);
                var count = answer.GetProperty("units").GetArrayLength();
                Assert.True(count == 2 || watermark < acknowledged, "An answer without an acknowledged fact claims to be newer than it.");
                old |= count == 1;
                return count == 2;
            },
            "the primary answers");
        Assert.True(old, "No answer came from the paused replica: the test shows nothing.");
        await LampShop.WithinAsync(async () => (await host.Quality.GetStringAsync("/api/alarms")).Contains("replica-behind", StringComparison.Ordinal), "alarm");
        foreach (var question in Questions)
        {
            Assert.True((await AskAsync(host, question)).Watermark > acknowledged, question);
        }

        await standby.ExecuteAsync("select pg_wal_replay_resume()");
        await LampShop.WithinAsync(async () => !(await host.Quality.GetStringAsync("/api/alarms")).Contains("replica-behind", StringComparison.Ordinal) && (await AskAsync(host, Questions[1])).Answer.GetProperty("units").GetArrayLength() == 2, "caught up");

        // The replica dies: no question fails, none waits long, and posts never depended on it.
        await standby.KillAsync();
        var clock = System.Diagnostics.Stopwatch.StartNew();
        foreach (var question in Questions)
        {
            Assert.True((await AskAsync(host, question)).Answer.GetProperty("completeness").GetProperty("isComplete").GetBoolean(), question);
        }

        await BuildAsync(host, "0003");
        Assert.True(clock.Elapsed < TimeSpan.FromSeconds(20), $"{clock.Elapsed}");
        Assert.Equal(3, (await AskAsync(host, Questions[1])).Answer.GetProperty("units").GetArrayLength());
        await LampShop.WithinAsync(async () => (await host.Quality.GetStringAsync("/api/alarms")).Contains("replica-behind", StringComparison.Ordinal), "alarm");
    }

    [Fact]
    public async Task Without_replicas_no_answer_has_a_watermark_and_a_question_before_work_starts_never_asks_one()
    {
        await using var primary = await PlainServer.StartAsync();
        var database = await TestDatabase.CreateOnAsync(primary);
        await using var standby = await primary.StandbyAsync();
        await using (var host = await ServiceHost.StartOnAsync(database, $"--ConnectionStrings:TraceabilityRead={Reading(primary, standby.Sockets)}", "--Postgres:ReplicaLagMax=01:00:00"))
        {
            await BuildAsync(host, "0001");
            await LampShop.WithinAsync(async () => (await AskAsync(host, Questions[1])).Answer.GetProperty("units").GetArrayLength() == 1, "replayed");
            await standby.ExecuteAsync("select pg_wal_replay_pause()");

            // May the next step start? Is the fact there? These are asked of the primary, however much a replica may lag.
            await BuildAsync(host, "0002");
            using var content = new StringContent("{}", Encoding.UTF8, "application/json");
            using var ready = await host.Quality.PostAsync("/api/units/TOUR-LAMP/0002/steps/CLOSE/readiness", content);
            Assert.True(ready.IsSuccessStatusCode);
            Assert.Single((await AskAsync(host, Questions[1])).Answer.GetProperty("units").EnumerateArray());
            using var unit = await host.Quality.GetAsync("/api/units/TOUR-LAMP/0002");
            Assert.True(unit.IsSuccessStatusCode);
            Assert.False(unit.Headers.Contains(AnswerDatabase.Header));
        }
    }

    private static string Reading(PlainServer server, string hosts) =>
        new NpgsqlConnectionStringBuilder(server.ConnectionString) { Host = hosts, Database = "traceability", HostRecheckSeconds = 1 }.ConnectionString;

    // Whether a session of the service on that server has done something since.
    private static async Task<bool> IsReadSinceAsync(PlainServer server, DateTime since) => (bool)(await server.ExecuteAsync(
        $"select exists (select from pg_stat_activity where application_name = 'traceability-read' and state_change > '{since:O}')"))!;

    private static async Task<(JsonElement Answer, DateTimeOffset Watermark)> AskAsync(ServiceHost host, string question)
    {
        using var answer = await host.Quality.GetAsync($"/api/{question}");
        var text = await answer.Content.ReadAsStringAsync();
        Assert.True(answer.IsSuccessStatusCode, $"{question}: {text}");
        return (JsonSerializer.Deserialize<JsonElement>(text), DateTimeOffset.Parse(Assert.Single(answer.Headers.GetValues(AnswerDatabase.Header)), CultureInfo.InvariantCulture));
    }

    private static async Task BuildAsync(ServiceHost host, string serial)
    {
        if (serial == "0001")
        {
            using var file = new StringContent(await File.ReadAllTextAsync(Path.Combine(Repository.Root, "docs", "tutorial", "lamp.yaml")), Encoding.UTF8, "application/yaml");
            using var defined = await host.Admin.PostAsync("/api/master-data", file);
            defined.EnsureSuccessStatusCode();
        }

        using var content = new StringContent(
            $$"""{"factId":"0b5f2c1e-0000-4000-8000-00000000{{serial}}","type":"unit-opened","occurredAt":"2026-03-02T09:00:00Z","station":"TOUR-1","unit":{"item":"TOUR-LAMP","serial":"{{serial}}"} }""",
            Encoding.UTF8,
            "application/json");
        using var answer = await host.Admin.PostAsync("/api/facts", content);
        Assert.Equal(System.Net.HttpStatusCode.Created, answer.StatusCode);
    }
}
