using System.Text.Json;
using System.Text.Json.Nodes;
using Traceability.Service;
using Traceability.Testing;

namespace Traceability.Acceptance.Robustness;

/// <summary>Many at once: one id by many senders, and two instances of the service on one database.</summary>
public sealed class ConcurrencyTests
{
    private const int Senders = 32;
    private static readonly DateTimeOffset Start = LampWorks.DaysAgo(6);

    [Fact]
    public async Task Thirty_two_posts_of_one_fact_at_once_give_one_event_and_one_answer()
    {
        await using var host = await ServiceHost.StartAsync();
        var works = new LampWorks(1, Start);
        await Terminal.PostAllAsync(host.Admin, works.Definitions(), batch: 1);
        for (var round = 0; round < 20; round++)
        {
            var lamp = works.SimpleLamp(1 + round, round * 10);
            await Terminal.PostAllAsync(host.Admin, lamp[..2], batch: 1);
            var before = await Tables.CountAsync(host.Database, "events.mt_events");

            // No container: the answer carries a finding, which every sender must see.
            var fact = lamp[2] with { Json = LampWorks.With(lamp[2].Json, "materials", new JsonArray()) };
            var replies = await Task.WhenAll(Enumerable.Range(0, Senders).Select(_ => Task.Run(() => Terminal.PostAsync(host.Admin, fact))));

            Assert.Single(replies, r => r.Status == 201);
            Assert.Equal(Senders - 1, replies.Count(r => r.Status == 200));
            Assert.Single(replies.Select(r => WithoutRepeat(r.Body)).Distinct(StringComparer.Ordinal));
            Assert.NotEqual(0, replies[0].Body.GetProperty("findings").GetArrayLength());
            Assert.Equal(before + 1, await Tables.CountAsync(host.Database, "events.mt_events"));
        }
    }

    [Fact]
    public async Task Of_one_id_with_several_contents_one_is_recorded_and_the_others_are_conflicts()
    {
        await using var host = await ServiceHost.StartAsync();
        var works = new LampWorks(2, Start);
        await Terminal.PostAllAsync(host.Admin, works.Definitions(), batch: 1);
        var lamp = works.SimpleLamp(1, 0);
        await Terminal.PostAllAsync(host.Admin, lamp[..1], batch: 1);

        var replies = await Task.WhenAll(Enumerable.Range(0, Senders).Select(i => Task.Run(() =>
            Terminal.PostAsync(host.Admin, lamp[1] with { Json = LampWorks.With(lamp[1].Json, "note", FormattableString.Invariant($"n{i % 8}")) }))));

        Assert.Single(replies, r => r.Status == 201);
        Assert.Equal((Senders / 8) - 1, replies.Count(r => r.Status == 200));
        var conflicts = replies.Where(r => r.Status == 409).ToArray();
        Assert.Equal(Senders - (Senders / 8), conflicts.Length);
        Assert.All(conflicts, c => Assert.Equal(("fact-id-reused", "/factId"), (c.Code, c.Body.GetProperty("errors")[0].GetProperty("pointer").GetString())));
        await Tables.SettleAsync(host.Database);
        Tables.RequireNone(await FreshJudgement.DifferencesAsync(host.Database));
    }

    [Fact]
    public async Task A_repeat_of_what_can_be_true_only_once_is_answered_as_the_first_time()
    {
        await using var host = await ServiceHost.StartAsync();
        await using var second = await SecondAsync(host);
        using var other = Terminal.Client(new(second.App.Urls.Single()), host.AdministratorKey);
        var works = new LampWorks(10, Start);
        Sent[] once = [.. works.Definitions(), .. Enumerable.Range(1, 30).Select(l => works.SimpleLamp(l, 0)[0])];
        foreach (var fact in once)
        {
            Assert.Equal(201, (await Terminal.PostAsync(host.Admin, fact)).Status);
        }

        // An opening, a receipt, a release: told again, by whichever instance, they contradict nothing.
        foreach (var fact in once)
        {
            Assert.Equal(200, (await Terminal.PostAsync(host.Admin, fact)).Status);
            Assert.Equal(200, (await Terminal.PostAsync(other, fact)).Status);
        }

        // What one instance was told is not known it must not remember so once the other has recorded it.
        for (var serial = 100; serial < 120; serial++)
        {
            var lamp = works.SimpleLamp(serial, 0);
            Assert.Equal((404, "unit-unknown"), await OutcomeAsync(other, lamp[1]));
            Assert.Equal((201, string.Empty), await OutcomeAsync(host.Admin, lamp[0]));
            Assert.Equal((201, string.Empty), await OutcomeAsync(other, lamp[1]));
            var station = works.Define("station-defined", 10, FormattableString.Invariant($" \"subject\":\"S{serial}\",\"site\":\"WORKS\",\"description\":\"d\" "));
            var there = works.Fact("unit-held", 20, TimeSpan.Zero, FormattableString.Invariant($"S{serial}"), "P-1", LampWorks.Unit("LAMP", serial) + ",\"reason\":\"r\"");
            Assert.Equal((404, "station-unknown"), await OutcomeAsync(other, there));
            Assert.Equal((201, string.Empty), await OutcomeAsync(host.Admin, station));
            Assert.Equal((201, string.Empty), await OutcomeAsync(other, there));
        }
    }

    [Theory]
    [InlineData(11)]
    [InlineData(12)]
    public async Task Two_instances_on_one_database_lose_nothing_and_double_nothing(int seed)
    {
        await using var host = await ServiceHost.StartAsync();
        await using var second = await SecondAsync(host);
        using var other = Terminal.Client(new(second.App.Urls.Single()), host.AdministratorKey);
        var facts = LampHistory.Build((ulong)seed, Start, 12);
        var definitions = facts.TakeWhile(f => !f.Type.StartsWith("unit", StringComparison.Ordinal)).ToArray();
        await Terminal.PostAllAsync(host.Admin, definitions, batch: 50);

        // Both get all facts, each in an order of its own and in small requests: most are posted by both at about the same time.
        var dice = new Dice((ulong)seed);
        var rest = facts[definitions.Length..];
        await Task.WhenAll(
            Terminal.PostAllAsync(host.Admin, rest, batch: 3, connections: 4),
            Terminal.PostAllAsync(other, [.. rest.Take(40), .. dice.Shuffled(rest.Skip(40))], batch: 2, connections: 4));

        await Tables.SettleAsync(host.Database);
        Assert.Equal(facts.Count, await Tables.CountAsync(host.Database, "events.mt_events"));
        Assert.Equal(facts.Count, await Tables.CountAsync(host.Database, "traceability.receipt"));
        await RequireWholeStreamsAsync(host);
        Tables.RequireNone(await FreshJudgement.DifferencesAsync(host.Database));
        await RequireYieldsOfRowsAsync(host);
    }

    [Fact]
    public async Task Two_instances_that_put_one_component_into_two_units_at_once_both_find_it()
    {
        await using var host = await ServiceHost.StartAsync();
        await using var second = await SecondAsync(host);
        using var other = Terminal.Client(new(second.App.Urls.Single()), host.AdministratorKey);
        var works = new LampWorks(4, Start);
        await Terminal.PostAllAsync(host.Admin, works.Definitions(), batch: 50);
        for (var round = 0; round < 40; round++)
        {
            var (a, b, head) = ((round * 2) + 1, (round * 2) + 2, round + 1);
            await Terminal.PostAllAsync(host.Admin, [works.Fact("unit-opened", 1, LampWorks.Unit("LAMP", a)), works.Fact("unit-opened", 1, LampWorks.Unit("LAMP", b)), works.Fact("unit-opened", 1, LampWorks.Unit("HEAD", head))], batch: 3);

            // The other instance gets to know the head before it is released.
            await Terminal.PostAllAsync(other, [works.Fact("step-completed", 2, LampWorks.Unit("HEAD", head) + ""","step":"BOND" """)], batch: 1);
            await Task.WhenAll(
                Terminal.PostAsync(host.Admin, works.Fact("unit-released", 3, LampWorks.Unit("HEAD", head))),
                Terminal.PostAsync(host.Admin, Install(works, a, head)),
                Terminal.PostAsync(other, Install(works, b, head)));
        }

        await Tables.SettleAsync(host.Database);
        Tables.RequireNone(await FreshJudgement.DifferencesAsync(host.Database));
    }

    private static async Task<(int Status, string Code)> OutcomeAsync(HttpClient client, Sent fact)
    {
        var reply = await Terminal.PostAsync(client, fact);
        return (reply.Status, reply.Code);
    }

    private static Sent Install(LampWorks works, int lamp, int head) =>
        works.Fact("component-installed", 5, LampWorks.Unit("LAMP", lamp) + $$$""","position":"HEAD","component":{"item":"HEAD","serial":"{{{head}}}"}""");

    private static async Task<TraceabilityService> SecondAsync(ServiceHost host)
    {
        var second = await TraceabilityService.CreateAsync(
        [
            "--urls", "http://127.0.0.1:0",
            $"--ConnectionStrings:Traceability={host.ConnectionString}",
            "--Postgres:AllowUnsafeDurability=true",
            $"--Postgres:DataFolder={host.DataFolder}",
            "--Logging:LogLevel:Default=Warning",
        ]);
        await second.App.StartAsync();
        return second;
    }

    private static string WithoutRepeat(JsonElement receipt)
    {
        var body = JsonNode.Parse(receipt.GetRawText())!.AsObject();
        body.Remove("isRepeat");
        return body.ToJsonString();
    }

    // Versions from 1 without a hole, the stream's own version at the end, and a receipt that points to each event.
    private static async Task RequireWholeStreamsAsync(ServiceHost host)
    {
        await using var command = host.Database.CreateCommand(
            """
            select coalesce(string_agg(s.id, ', '), '') from events.mt_streams s where s.version <> (select count(*) from events.mt_events e where e.stream_id = s.id)
              or s.version <> (select max(e.version) from events.mt_events e where e.stream_id = s.id)
              or exists (select 1 from events.mt_events e where e.stream_id = s.id
                and not exists (select 1 from traceability.receipt r where r.fact_id = e.id and r.stream = e.stream_id and r.version = e.version))
            """);
        Assert.Equal(string.Empty, await command.ExecuteScalarAsync());
    }

    // The counters, which are moved by differences, say what the rows say.
    private static async Task RequireYieldsOfRowsAsync(ServiceHost host)
    {
        await using var command = host.Database.CreateCommand(
            """
            select (select coalesce(sum(attempts), 0) from (select attempts from traceability.step_yield_day union all select attempts from traceability.step_yield_change) c),
                   (select count(*) from traceability.step_result),
                   (select coalesce(sum(ended), 0) from (select ended from traceability.unit_yield_day union all select ended from traceability.unit_yield_change) c),
                   (select count(*) from traceability.unit_result)
            """);
        await using var reader = await command.ExecuteReaderAsync();
        Assert.True(await reader.ReadAsync());
        Assert.Equal(reader.GetInt64(1), (long)reader.GetDecimal(0));
        Assert.Equal(reader.GetInt64(3), (long)reader.GetDecimal(2));
        Assert.NotEqual(0, reader.GetInt64(1));
        Assert.NotEqual(0, reader.GetInt64(3));
    }
}
