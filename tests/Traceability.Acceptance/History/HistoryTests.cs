using System.Collections.Concurrent;
using System.Net;
using System.Text;
using Traceability.Acceptance.Rebuilds;
using Traceability.Acceptance.Robustness;
using Traceability.Contracts;
using Traceability.Testing;

namespace Traceability.Acceptance.History;

/// <summary>An import of history leaves what single posts leave, once, whatever comes in between.</summary>
public sealed class HistoryTests
{
    private static readonly DateTimeOffset Start = LampWorks.DaysAgo(6);

    public static TheoryData<ulong> Seeds() => [.. Enumerable.Range(1, TestLength.IsLong ? 100 : 4).Select(s => (ulong)s)];

    [Theory]
    [MemberData(nameof(Seeds))]
    public async Task An_import_leaves_what_single_posts_leave(ulong seed)
    {
        var dice = new Dice(seed * 31);
        var history = LampHistory.Build(seed, Start, dice.Int(10, 30));
        await using var singly = await ServiceHost.StartAsync();
        await HistoryClient.PostAllAsync(singly.Admin, history);
        await Tables.SettleAsync(singly.Database);

        // Some of it was posted before, so that streams exist; the chunks cut through units.
        await using var imported = await ServiceHost.StartAsync($"--History:ChunkMax={dice.Pick(1, 13, 60, 400, 5_000)}");
        var before = dice.Pick(0, history.Count / 3, history.Count / 2);
        await HistoryClient.PostAllAsync(imported.Admin, history.Take(before).Where(f => !f.Type.StartsWith("record-", StringComparison.Ordinal)));
        before = (int)await Tables.CountAsync(imported.Database, "traceability.receipt");
        var recorded = await HistoryClient.ImportAllAsync(imported.Admin, history);
        await Tables.SettleAsync(imported.Database);

        Assert.Equal(history.Count - before, recorded);
        Tables.RequireNone(Tables.Difference(await Tables.DerivedAsync(singly.Database), await Tables.DerivedAsync(imported.Database)));
        Assert.Equal(await StoredAsync(singly), await StoredAsync(imported));
        await RebuildClient.RequireFreshAsync(imported.Database);
        RebuildClient.RequireEqual(await RebuildClient.RunAsync(imported.Admin));
    }

    [Fact]
    public async Task An_import_in_any_order_ends_in_the_same_judgements()
    {
        await using var host = await ServiceHost.StartAsync("--History:ChunkMax=40");
        var history = LampHistory.Build(77, Start, 20);
        await HistoryClient.ImportAllAsync(host.Admin, new Dice(78).Shuffled(history));
        await RebuildClient.RequireFreshAsync(host.Database);

        await using var ordered = await ServiceHost.StartAsync();
        await HistoryClient.ImportAllAsync(ordered.Admin, history);
        await Tables.SettleAsync(ordered.Database);
        Tables.RequireNone(Tables.Difference(await Tables.DerivedAsync(ordered.Database), await Tables.DerivedAsync(host.Database)));
    }

    [Fact]
    public async Task A_file_that_was_broken_off_is_sent_again_and_nothing_is_there_twice()
    {
        await using var host = await ServiceHost.StartAsync("--History:ChunkMax=100");
        var works = new LampWorks(41, Start);
        Sent[] facts = [.. works.Definitions(), .. Enumerable.Range(1, 400).SelectMany(l => works.SimpleLamp(l, l / 10.0))];
        var halves = 0;
        var dice = new Dice(42);
        for (var cut = 1; cut <= 5; cut++)
        {
            var before = await Tables.CountAsync(host.Database, "traceability.receipt");
            await CutAsync(host, facts, linesMin: dice.Int(100, 200) * cut);
            await Tables.SettleAsync(host.Database);
            var after = await Tables.CountAsync(host.Database, "traceability.receipt");
            halves += after > before && after < facts.Length ? 1 : 0;
        }

        var stored = await Tables.CountAsync(host.Database, "traceability.receipt");
        var (counts, _) = await HistoryClient.ImportAsync(host.Admin, facts);
        var (again, _) = await HistoryClient.ImportAsync(host.Admin, facts);

        Assert.True(halves >= 2, $"Only {halves} of 5 cuts met the file in its middle.");
        Assert.Equal(new HistoryCounts(facts.Length, facts.Length - stored, stored, 0, true), counts);
        Assert.Equal(new HistoryCounts(facts.Length, 0, facts.Length, 0, true), again);
        Assert.Equal(facts.Length, await Tables.CountAsync(host.Database, "events.mt_events"));
        await RebuildClient.RequireFreshAsync(host.Database);
    }

    [Fact]
    public async Task Live_posts_about_the_same_units_go_on_beside_an_import()
    {
        await using var host = await ServiceHost.StartAsync("--History:ChunkMax=150");
        var works = new LampWorks(43, Start);
        await HistoryClient.ImportAllAsync(host.Admin, works.Definitions());
        const int Lamps = 300;
        var file = Enumerable.Range(1, Lamps).SelectMany(l => works.SimpleLamp(l, l / 10.0)).ToArray();
        var opened = file.Where(f => f.Type == "unit-opened").ToArray();
        await HistoryClient.ImportAllAsync(host.Admin, opened);

        // Held and lifted again while their steps are imported; and the same facts posted by themselves.
        var live = Enumerable.Range(1, Lamps).Select(l => works.Fact("unit-held", 60, LampWorks.Unit("LAMP", l) + ""","reason":"Doubt" """)).ToArray();
        var latencies = new ConcurrentBag<double>();
        var posting = Parallel.ForEachAsync(file.Where((_, i) => i % 3 == 1).Reverse().Zip(live).SelectMany(p => new[] { p.First, p.Second }), new ParallelOptions { MaxDegreeOfParallelism = 8 }, async (fact, _) =>
        {
            var started = System.Diagnostics.Stopwatch.GetTimestamp();
            await HistoryClient.PostAllAsync(host.Admin, [fact]);
            latencies.Add(System.Diagnostics.Stopwatch.GetElapsedTime(started).TotalSeconds);
        });
        while (latencies.Count < 20)
        {
            await Task.Delay(5);
        }

        var (counts, refused) = await HistoryClient.ImportAsync(host.Admin, file);
        var met = latencies.Count;
        await posting;

        Assert.Empty(refused);
        Assert.Equal(file.Length, counts.Recorded + counts.Repeats);
        Assert.True(counts.Repeats > opened.Length && met > 20, "No live post met the import.");
        Assert.True(latencies.Max() < 10, $"A live post waited {latencies.Max():0.0} s.");
        Assert.Equal(works.Definitions().Count + file.Length + live.Length, await Tables.CountAsync(host.Database, "events.mt_events"));
        await RebuildClient.RequireFreshAsync(host.Database);
    }

    [Fact]
    public async Task Bad_lines_are_told_and_the_others_are_stored()
    {
        await using var host = await ServiceHost.StartAsync("--History:ChunkMax=3");
        var works = new LampWorks(44, Start);
        await HistoryClient.ImportAllAsync(host.Admin, works.Definitions());
        var lamp = works.SimpleLamp(1, 0);
        string[] lines =
        [
            lamp[1].Json, lamp[0].Json, "{", string.Empty, lamp[1].Json, LampWorks.With(lamp[1].Json, "step", "GLUE"), lamp[2].Json, works.SimpleLamp(1, 5)[0].Json,
            new string('x', (256 * 1024) + 1), LampWorks.With(works.SimpleLamp(2, 0)[0].Json, "occurredAt", works.Time(60 * 24 * 9)), lamp[1].Json,
        ];

        var (counts, refused) = await HistoryClient.ImportAsync(host.Admin, string.Join('\n', lines));

        Assert.Equal(new HistoryCounts(11, 3, 1, 6, true), counts);
        Assert.Equal(
            [(1, "unit-unknown"), (3, "fact-malformed"), (6, "fact-id-reused"), (8, "unit-already-open"), (9, "body-too-large"), (10, "occurred-in-future")],
            refused.Select(r => (r.Line!.Value, r.Problem!.Code)));
        Assert.Equal(lamp[1].Id, refused[0].FactId);
        await RebuildClient.RequireFreshAsync(host.Database);

        // A repeat by a single post is answered as a repeat.
        var reply = await Terminal.PostAsync(host.Admin, lamp[1]);
        Assert.Equal(200, reply.Status);
        Assert.Equal(2, reply.Body.GetProperty("version").GetInt32());
    }

    [Fact]
    public async Task The_times_of_an_import_count_as_read_off_an_unmeasured_clock_and_name_its_sender()
    {
        await using var host = await ServiceHost.StartAsync();
        var works = new LampWorks(45, Start);
        await HistoryClient.ImportAllAsync(host.Admin, [.. works.Definitions(), .. works.SimpleLamp(1, 0)]);

        await using var command = host.Database.CreateCommand("select data ->> 'sentBy', data -> 'clock' ->> 'uncertainty', data -> 'clock' ->> 'offset' from events.mt_events where stream_id = 'unit/LAMP/1'");
        await using var reader = await command.ExecuteReaderAsync();
        Assert.True(await reader.ReadAsync());
        Assert.Equal(("administrator", "PT1M"), (reader.GetString(0), reader.GetString(1)));
    }

    // Gives the file's bytes until so many lines are counted as durable, and then breaks the connection off.
    private static async Task CutAsync(ServiceHost host, Sent[] facts, int linesMin)
    {
        using var client = host.ClientWith(host.AdministratorKey);
        using var breaking = new CancellationTokenSource();
        using var content = new PushContent(facts, async sent => await UntilAsync(() => Tables.CountAsync(host.Database, "traceability.receipt"), Math.Min(linesMin, sent - 150), breaking), linesMin);
        content.Headers.ContentType = PushContent.Type;
        try
        {
            using var answer = await client.PostAsync("/api/history", content, breaking.Token);
        }
        catch (Exception e) when (e is HttpRequestException or OperationCanceledException or IOException)
        {
            // Broken off, as it was meant to be.
        }
    }

    private static async Task UntilAsync(Func<Task<long>> count, int atLeast, CancellationTokenSource breaking)
    {
        while (await count() < atLeast)
        {
            await Task.Delay(10);
        }

        await breaking.CancelAsync();
        breaking.Token.ThrowIfCancellationRequested();
    }

    private static async Task<string> StoredAsync(ServiceHost host)
    {
        await using var command = host.Database.CreateCommand(
            "select string_agg(stream_id || ' ' || id || ' ' || type || ' ' || data::text || ' ' || mt_dotnet_type, E'\\n' order by id) from events.mt_events");
        return (string)(await command.ExecuteScalarAsync())!;
    }

    // A body that is written line by line; at its chosen line it waits for what is to happen then.
    private sealed class PushContent(Sent[] facts, Func<int, Task> then, int at) : HttpContent
    {
        public static readonly System.Net.Http.Headers.MediaTypeHeaderValue Type = new("application/x-ndjson");

        protected override async Task SerializeToStreamAsync(Stream stream, TransportContext? context)
        {
            for (var i = 0; i < facts.Length; i++)
            {
                await stream.WriteAsync(Encoding.UTF8.GetBytes(facts[i].Json.ReplaceLineEndings(" ") + "\n"));
                if (i == at + 250)
                {
                    await stream.FlushAsync();
                    await then(i);
                }
            }
        }

        protected override bool TryComputeLength(out long length)
        {
            length = 0;
            return false;
        }
    }
}
