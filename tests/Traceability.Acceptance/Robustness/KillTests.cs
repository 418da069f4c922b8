using System.Collections.Concurrent;
using System.Globalization;
using System.Net;
using System.Text.Json;
using Traceability.Testing;

namespace Traceability.Acceptance.Robustness;

/// <summary>kill -9 of the service in the middle of its work: what it acknowledged is there, once, and the rest can be sent again.</summary>
public sealed class KillTests
{
    private const int Posters = 8;
    private const int BatchLamps = 500;
    private static readonly DateTimeOffset Start = LampWorks.DaysAgo(6);

    private static int Seeds => TestLength.IsLong ? 50 : 3;

    [Fact]
    public async Task After_a_kill_every_acknowledged_fact_is_there_once_and_the_batch_can_be_repeated()
    {
        await using var service = await ServiceProcess.StartAsync();
        var works = new LampWorks(8, Start);
        using (var client = Terminal.Client(service.Address, service.Key))
        {
            await Terminal.PostAllAsync(client, works.Definitions(), batch: 50);
        }

        var halves = 0;
        var dice = new Dice(9);
        for (var seed = 1; seed <= Seeds; seed++)
        {
            // Every lamp of the batch has a finding, so that the answers have something to say.
            var first = seed * 10_000;
            Sent[] batch = [.. Enumerable.Range(first, BatchLamps).SelectMany(l => works.SimpleLamp(l, 0)).Select(f => f.Json.Contains("\"GLUE\"", StringComparison.Ordinal) ? f with { Json = LampWorks.With(f.Json, "materials", null) } : f)];
            var singles = Enumerable.Range(0, Posters).Select(p => Enumerable.Range(first + 1_000 + (p * 100), 99).SelectMany(l => works.SimpleLamp(l, 0)).ToArray()).ToArray();
            var acknowledged = await KillInTheMiddleAsync(service, batch, singles, dice.Int(10, 60) * batch.Length / 100);
            Assert.NotEmpty(acknowledged);

            await service.RunAsync();
            using var client = Terminal.Client(service.Address, service.Key);
            await RequireOnceAsync(service, client, acknowledged);
            var stored = await StoredAsync(service, batch);
            halves += stored.Count > 0 && stored.Count < batch.Length ? 1 : 0;
            await RequireRepeatAsync(client, batch, stored);
            await Terminal.PostAllAsync(client, [.. singles.SelectMany(s => s)], batch: 500);
            await RequireOnceAsync(service, client, batch.Concat(singles.SelectMany(s => s)).Select(f => f.Id).ToArray(), everyHundredth: true);
            await Tables.SettleAsync(service.Database);
        }

        Tables.RequireNone(await FreshJudgement.DifferencesAsync(service.Database));

        // Else the test would have killed between batches only.
        Assert.True(halves * 3 >= Seeds, string.Create(CultureInfo.InvariantCulture, $"Only {halves} of {Seeds} kills met the batch in its middle."));
        LongForm.Note(
            "1: kill -9 of the service in the midst of a batch",
            FormattableString.Invariant($"{Seeds} kills"),
            FormattableString.Invariant($"{halves} met the batch in its middle; all acknowledged facts there once, each batch repeated without a fact twice; derived rows as judged afresh"));
    }

    // Kills as soon as the chosen fact of the batch is stored; gives the ids of the single posts that were acknowledged until then.
    private static async Task<IReadOnlyCollection<Guid>> KillInTheMiddleAsync(ServiceProcess service, Sent[] batch, Sent[][] singles, int at)
    {
        var acknowledged = new ConcurrentBag<Guid>();
        using var client = Terminal.Client(service.Address, service.Key);
        using var asking = Terminal.Client(service.Address, service.Key);
        var posters = singles.Select(own => UntilKilledAsync(async () =>
        {
            foreach (var fact in own)
            {
                var reply = await Terminal.PostAsync(client, fact);
                Assert.Equal(201, reply.Status);
                acknowledged.Add(fact.Id);
            }
        })).ToArray();
        var batched = UntilKilledAsync(async () =>
        {
            foreach (var (reply, fact) in (await Terminal.PostBatchAsync(client, batch)).Zip(batch))
            {
                Assert.Equal(201, reply.Status);
                acknowledged.Add(fact.Id);
            }
        });
        while (!batched.IsCompleted)
        {
            using var answer = await asking.GetAsync($"/api/facts/{batch[at].Id}");
            if (answer.StatusCode == HttpStatusCode.OK && !acknowledged.IsEmpty)
            {
                break;
            }
        }

        await service.KillAsync();
        await Task.WhenAll(posters.Append(batched));
        return acknowledged;
    }

    private static async Task UntilKilledAsync(Func<Task> work)
    {
        try
        {
            await work();
        }
        catch (Exception e) when (e is HttpRequestException or IOException)
        {
            // The service is gone; what was acknowledged until then is noted.
        }
    }

    private static async Task RequireOnceAsync(ServiceProcess service, HttpClient client, IReadOnlyCollection<Guid> facts, bool everyHundredth = false)
    {
        await using var command = service.Database.CreateCommand(
            """
            with stored as materialized (select id, count(*) as times from events.mt_events group by id),
                streams as materialized (select stream_id, count(*) as facts from events.mt_events group by stream_id)
            select (select count(*) from unnest($1) f(id) left join stored using (id) where times is distinct from 1),
                   (select count(*) from unnest($1) f(id) left join traceability.receipt r on r.fact_id = f.id
                      left join events.mt_events e on e.stream_id = r.stream and e.version = r.version and e.id = f.id where e.id is null),
                   (select count(*) from stored where times > 1),
                   (select count(*) from events.mt_streams s left join streams n on n.stream_id = s.id where s.version <> coalesce(n.facts, 0))
            """);
        command.CommandTimeout = 300;
        command.Parameters.Add(new() { Value = facts.ToArray() });
        await using var reader = await command.ExecuteReaderAsync();
        Assert.True(await reader.ReadAsync());
        Assert.Equal((0L, 0L, 0L, 0L), (reader.GetInt64(0), reader.GetInt64(1), reader.GetInt64(2), reader.GetInt64(3)));
        foreach (var id in facts.Where((_, i) => !everyHundredth || i % 100 == 0))
        {
            using var answer = await client.GetAsync($"/api/facts/{id}");
            Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
        }
    }

    private static async Task<HashSet<Guid>> StoredAsync(ServiceProcess service, Sent[] batch)
    {
        await using var command = service.Database.CreateCommand("select id from events.mt_events where id = any($1)");
        command.Parameters.Add(new() { Value = batch.Select(f => f.Id).ToArray() });
        await using var reader = await command.ExecuteReaderAsync();
        HashSet<Guid> stored = [];
        while (await reader.ReadAsync())
        {
            stored.Add(reader.GetGuid(0));
        }

        return stored;
    }

    // Lines that were stored are answered as the first time, the others are stored now; and the findings are those of an undisturbed batch.
    private static async Task RequireRepeatAsync(HttpClient client, Sent[] batch, HashSet<Guid> stored)
    {
        var replies = await Terminal.PostBatchAsync(client, batch);
        Assert.Equal(batch.Select(f => stored.Contains(f.Id) ? 200 : 201), replies.Select(r => r.Status));
        var again = await Terminal.PostBatchAsync(client, batch);
        Assert.All(again, r => Assert.Equal(200, r.Status));
        Assert.Equal(Judgements(replies), Judgements(again));

        await using var undisturbed = await ServiceHost.StartAsync();
        await Terminal.PostAllAsync(undisturbed.Admin, new LampWorks(8, Start).Definitions(), batch: 50);
        var expected = Judgements(await Terminal.PostBatchAsync(undisturbed.Admin, batch));
        Assert.Contains(expected, e => e.Contains("not-recorded", StringComparison.Ordinal));
        Assert.Equal(expected, Judgements(replies));
    }

    private static string[] Judgements(IReadOnlyList<FactReply> replies) => [.. replies.Select(r =>
        $"{r.Body.GetProperty("factId")} {r.Body.GetProperty("stream")} {r.Body.GetProperty("version")} {JsonSerializer.Serialize(r.Body.GetProperty("findings"))}")];
}
