using System.Net;
using System.Text.Json;
using Xunit;

namespace Traceability.Service.Tests.Poison;

/// <summary>A stored event that can't be read: the rest goes on, what it touches is unknown, every answer says so, an alarm is raised.</summary>
public sealed class PoisonTests
{
    private const string Lamp1 = "unit/TOUR-LAMP/0001";

    /// <summary>Stored names and JSON that this version can't read.</summary>
    public static TheoryData<string, string, string> Poison => new()
    {
        { "unknown type", "torque_audited", """{"occurredAt":"2026-03-02T09:30:00Z","unit":{"item":"TOUR-LAMP","serial":"0001"}}""" },
        { "newer form", "step_completed_v2", """{"occurredAt":"2026-03-02T09:30:00Z","unit":"TOUR-LAMP/0001","step":"BOND"}""" },
        { "bad shape", "step_completed", """{"occurredAt":"2026-03-02T09:30:00Z","unit":{"item":"TOUR-LAMP","serial":"0001"},"step":"BOND","materials":"none"}""" },
        { "null inside", "step_completed", """{"occurredAt":"2026-03-02T09:30:00Z","unit":{"item":"TOUR-LAMP","serial":"0001"},"step":"BOND","isRework":false,"materials":[null]}""" },
        { "overflow", "step_completed", """{"occurredAt":"2026-03-02T09:30:00Z","unit":{"item":"TOUR-LAMP","serial":"0001"},"step":"CLOSE","isRework":false,"measurements":[{"characteristic":"GAP","value":1e40,"unit":"mm"}]}""" },
        { "date out of range", "unit_held", """{"occurredAt":"12026-03-02T09:30:00Z","unit":{"item":"TOUR-LAMP","serial":"0001"},"reason":"x"}""" },
        { "not an object", "unit_held", "[1, 2]" },
    };

    [Theory]
    [MemberData(nameof(Poison))]
    public async Task A_unit_with_an_event_that_cannot_be_read_is_unknown_and_the_rest_goes_on(string what, string name, string json)
    {
        Assert.NotEmpty(what);
        await using var shop = await LampShop.StartAsync();
        await shop.BuildAsync("0001", "G2");
        await shop.BuildAsync("0002", "G2");
        Assert.All(await shop.ListsAsync(), a => Assert.True(a.Value.GetProperty("isComplete").GetBoolean(), a.Key));
        Assert.Equal(2, (await shop.AskAsync("lots/TOUR-GLUE/G1/scope")).GetProperty("totals").GetProperty("cleared").GetInt32());

        var id = await shop.StoreAsync(Lamp1, name, json);
        await shop.AlarmComesAsync("events-unreadable");
        await shop.SettledAsync();

        // The unit itself says so, at once and in full.
        var unit = await shop.AskAsync("units/TOUR-LAMP/0001");
        Assert.True(unit.GetProperty("unit").GetProperty("hasUnreadable").GetBoolean());
        Assert.False(unit.GetProperty("completeness").GetProperty("isComplete").GetBoolean());
        Assert.Contains("record-unreadable", unit.GetProperty("findings").EnumerateArray().Select(f => f.GetProperty("kind").GetString()), StringComparer.Ordinal);
        var record = await shop.AskAsync("units/TOUR-LAMP/0001/build-record");
        Assert.False(record.GetProperty("completeness").GetProperty("isComplete").GetBoolean());
        var stored = record.GetProperty("records").EnumerateArray().Single(r => r.TryGetProperty("unreadable", out _));
        Assert.Equal(id, stored.GetProperty("factId").GetGuid());
        Assert.True(JsonElement.DeepEquals(JsonSerializer.Deserialize<JsonElement>(json), stored.GetProperty("content")));
        var ready = await shop.ReadinessAsync("0001", "CLOSE", "{}");
        Assert.Equal("no", ready.GetProperty("answer").GetString());
        Assert.False(ready.GetProperty("completeness").GetProperty("isComplete").GetBoolean());

        // So does every answer that it is in; a lot that it may have used is possible, never cleared.
        Assert.All(await shop.ListsAsync(), a => AssertTouched(a.Key, a.Value, 1, Lamp1));
        var scope = await shop.AskAsync("lots/TOUR-GLUE/G1/scope");
        Assert.Equal(("0001", "possible"), Verdict(Assert.Single(scope.GetProperty("members").EnumerateArray())));
        Assert.Equal(1, scope.GetProperty("totals").GetProperty("cleared").GetInt32());

        // Others go on, and so does the recording of facts about this unit.
        await shop.CloseAsync("0002");
        await shop.CloseAsync("0001");
        Assert.True((await shop.AskAsync("units/TOUR-LAMP/0002")).GetProperty("completeness").GetProperty("isComplete").GetBoolean());
        await AssertReadyAndDegradedAsync(shop, "alarm-events-unreadable");
    }

    [Theory]
    [InlineData("lot/TOUR-GLUE/G1", "lot_sampled", new[] { "0001" })]
    [InlineData("tool/TOUR-SD1", "tool_lent", new[] { "0002" })]
    [InlineData("person/TOUR-P1", "person_trained", new[] { "0001", "0002" })]
    [InlineData("item/TOUR-GLUE", "item_renamed", new[] { "0001", "0002" })]
    [InlineData("routing/TOUR-LAMP", "routing_frozen", new[] { "0001", "0002" })]
    [InlineData("station/TOUR-1", "station_moved", new[] { "0001", "0002" })]
    [InlineData("site/TOUR", "site_closed", new[] { "0001", "0002" })]
    public async Task What_a_unit_was_judged_by_touches_it_when_it_cannot_be_read(string stream, string name, string[] touched)
    {
        await using var shop = await LampShop.StartAsync();
        await shop.BuildAsync("0001", "G1");
        await shop.BuildAsync("0002", "G2");
        await shop.CloseAsync("0002");
        await shop.SettledAsync();

        await shop.StoreAsync(stream, name, """{"occurredAt":"2026-03-02T08:00:00Z"}""");
        await shop.AlarmComesAsync("events-unreadable");
        await shop.SettledAsync();

        foreach (var serial in new[] { "0001", "0002" })
        {
            var unit = await shop.AskAsync($"units/TOUR-LAMP/{serial}");
            var isTouched = touched.Contains(serial, StringComparer.Ordinal);
            Assert.Equal(isTouched, unit.GetProperty("unit").GetProperty("hasUnreadable").GetBoolean());
            Assert.Equal(isTouched, unit.GetProperty("findings").EnumerateArray().Any(f => f.GetProperty("kind").GetString() == "reference-unreadable" && f.GetProperty("rule").GetString() == stream));
            Assert.Equal(!isTouched, (await shop.AskAsync($"units/TOUR-LAMP/{serial}/build-record")).GetProperty("completeness").GetProperty("isComplete").GetBoolean());
        }

        Assert.All(await shop.ListsAsync(), a => AssertTouched(a.Key, a.Value, touched.Length, stream));
        var cleared = (await shop.AskAsync("lots/TOUR-GLUE/G1/scope?include=cleared")).GetProperty("cleared").EnumerateArray().Select(c => c.GetProperty("serial").GetString());
        Assert.Equal(touched.Contains("0002", StringComparer.Ordinal) ? [] : ["0002"], cleared);
    }

    [Fact]
    public async Task A_question_that_names_something_unreadable_is_answered_no()
    {
        await using var shop = await LampShop.StartAsync();
        await shop.PostAsync("""{"type":"unit-opened","occurredAt":"2026-03-02T09:00:00Z","station":"TOUR-1","unit":{"item":"TOUR-LAMP","serial":"0001"}}""");
        const string Question = """{"station":"TOUR-1","person":"TOUR-P1","materials":[{"item":"TOUR-GLUE","lots":["G1"]}]}""";
        Assert.Equal("go", (await shop.ReadinessAsync("0001", "BOND", Question)).GetProperty("answer").GetString());

        await shop.StoreAsync("lot/TOUR-GLUE/G1", "lot_sampled", """{"occurredAt":"2026-03-02T08:00:00Z"}""");
        await shop.AlarmComesAsync("events-unreadable");

        var answer = await shop.ReadinessAsync("0001", "BOND", Question);
        Assert.Equal("no", answer.GetProperty("answer").GetString());
        Assert.Equal("reference-unreadable", Assert.Single(answer.GetProperty("reasons").EnumerateArray()).GetProperty("kind").GetString());
        Assert.Equal("lot/TOUR-GLUE/G1", Assert.Single(answer.GetProperty("completeness").GetProperty("unreadableStreamsShown").EnumerateArray()).GetString());
    }

    [Fact]
    public async Task An_old_event_that_is_damaged_is_found_by_the_round_and_known_again_when_it_is_mended()
    {
        await using var shop = await LampShop.StartAsync("--EventCheck:RoundEvery=00:00:01");
        await shop.BuildAsync("0001", "G2");
        await Task.Delay(TimeSpan.FromSeconds(6));
        await shop.ExecuteAsync("update events.mt_events set data = data || '{\"materials\":7}' where stream_id = $1 and type = 'step_completed'", Lamp1);

        await shop.AlarmComesAsync("events-unreadable");
        await shop.SettledAsync();
        Assert.True(await shop.ScalarAsync<bool>("select has_unreadable from traceability.unit where serial = '0001'"));

        await shop.ExecuteAsync("update events.mt_events set data = data || '{\"materials\":[]}' where stream_id = $1 and type = 'step_completed'", Lamp1);
        await shop.AlarmGoesAsync("events-unreadable");
        await shop.SettledAsync();
        Assert.False(await shop.ScalarAsync<bool>("select has_unreadable from traceability.unit where serial = '0001'"));
        Assert.All(await shop.ListsAsync(), a => Assert.True(a.Value.GetProperty("isComplete").GetBoolean(), a.Key));
    }

    [Fact]
    public async Task A_unit_that_cannot_be_judged_again_is_put_off_and_holds_up_nothing()
    {
        await using var shop = await LampShop.StartAsync();
        await shop.BuildAsync("0001", "G1");
        await shop.BuildAsync("0002", "G1");
        await shop.ExecuteAsync(
            """
            create function traceability.break_0001() returns trigger language plpgsql as $$ begin raise exception 'broken for a test'; end $$;
            create trigger broken before insert or update on traceability.unit for each row when (new.serial = '0001') execute function traceability.break_0001()
            """);

        await shop.PostAsync("""{"type":"lot-quarantined","occurredAt":"2026-03-02T09:01:00Z","lot":{"item":"TOUR-GLUE","lot":"G1"},"reason":"Cloudy"}""");
        await shop.AlarmComesAsync("rejudge-failing");

        // The other one was judged again; this one waits, with the reason, and answers say so.
        await LampShop.WithinAsync(async () => await shop.ScalarAsync<long>("select count(*) from traceability.rejudge") == 1, "one left");
        Assert.Contains("broken for a test", await shop.ScalarAsync<string>("select trouble from traceability.rejudge where unit = 'TOUR-LAMP/0001'"), StringComparison.Ordinal);
        Assert.Contains("lot-not-released", (await shop.AskAsync("findings?item=TOUR-LAMP&serial=0002")).GetProperty("findings").EnumerateArray().Select(f => f.GetProperty("kind").GetString()), StringComparer.Ordinal);
        Assert.False((await shop.AskAsync("units?item=TOUR-LAMP")).GetProperty("completeness").GetProperty("isComplete").GetBoolean());
        await shop.CloseAsync("0002");
        Assert.Equal(HttpStatusCode.ServiceUnavailable, await shop.TryPostAsync("""{"type":"unit-held","occurredAt":"2026-03-02T11:00:00Z","station":"TOUR-1","unit":{"item":"TOUR-LAMP","serial":"0001"},"reason":"x"}"""));

        // Not in a hot loop: after a while the tries are few, since each waits twice as long as the one before.
        await Task.Delay(TimeSpan.FromSeconds(8));
        Assert.InRange(await shop.ScalarAsync<int>("select tries from traceability.rejudge"), 2, 5);

        await shop.ExecuteAsync("drop trigger broken on traceability.unit");
        await shop.SettledAsync();
        Assert.Contains("lot-not-released", (await shop.AskAsync("findings?item=TOUR-LAMP&serial=0001")).GetProperty("findings").EnumerateArray().Select(f => f.GetProperty("kind").GetString()), StringComparer.Ordinal);
        await shop.AlarmGoesAsync("rejudge-failing");
    }

    [Fact]
    public async Task A_unit_that_could_not_be_judged_is_told_and_is_tried_again_at_the_next_start()
    {
        await using var shop = await LampShop.StartAsync();
        await shop.BuildAsync("0001", "G1");

        // As a version that fails on it leaves it.
        await shop.ExecuteAsync("update traceability.unit set has_unreadable = true where serial = '0001'");
        await shop.ExecuteAsync("insert into traceability.finding values ('TOUR-LAMP/0001', 77, 'TOUR-LAMP', 'unit-not-judged', '', '', 0, $1, now(), true, false, 'x', '{}')", Guid.Empty);
        await shop.AlarmComesAsync("units-not-judged");
        Assert.All(await shop.ListsAsync(), a => AssertTouched(a.Key, a.Value, 1, null));
        await Task.Delay(TimeSpan.FromSeconds(2));
        Assert.True(await shop.ScalarAsync<bool>("select has_unreadable from traceability.unit where serial = '0001'"));

        await shop.Host.RestartAsync("--EventCheck:Pause=00:00:00.2");
        await shop.AlarmGoesAsync("units-not-judged");
        await shop.SettledAsync();
        Assert.All(await shop.ListsAsync(), a => Assert.True(a.Value.GetProperty("isComplete").GetBoolean(), a.Key));
    }

    private static (string?, string?) Verdict(JsonElement member) => (member.GetProperty("serial").GetString(), member.GetProperty("verdict").GetString());

    private static void AssertTouched(string answer, JsonElement completeness, int units, string? stream)
    {
        Assert.False(completeness.GetProperty("isComplete").GetBoolean(), answer);
        Assert.True(completeness.GetProperty("unreadableUnits").GetInt32() == units, $"{answer}: {completeness}");
        Assert.Equal(units, completeness.GetProperty("unreadableUnitsShown").GetArrayLength());
        if (stream is not null)
        {
            Assert.Contains(stream, completeness.GetProperty("unreadableStreamsShown").EnumerateArray().Select(s => s.GetString()), StringComparer.Ordinal);
        }
    }

    private static async Task AssertReadyAndDegradedAsync(LampShop shop, string check)
    {
        using var answer = await shop.Host.Anonymous.GetAsync("/health/ready");
        using var report = JsonDocument.Parse(await answer.Content.ReadAsStringAsync());
        Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
        Assert.True(report.RootElement.GetProperty("isDegraded").GetBoolean());
        Assert.Contains(check, report.RootElement.GetProperty("checks").EnumerateArray().Select(c => c.GetProperty("name").GetString()), StringComparer.Ordinal);
        Assert.Contains("traceability_alarms", await shop.Host.Quality.GetStringAsync("/metrics"), StringComparison.Ordinal);
    }
}
