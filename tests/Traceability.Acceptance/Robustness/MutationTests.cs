using System.Globalization;
using System.Net.Sockets;
using System.Text;
using System.Text.Json.Nodes;
using Traceability.Testing;

namespace Traceability.Acceptance.Robustness;

/// <summary>Valid requests, spoiled by chance at every endpoint: the service never fails, hangs or writes half of anything.</summary>
public sealed class MutationTests
{
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(30);

    private static int Requests => TestLength.IsLong ? 100_000 : 3_000;

    [Fact]
    public async Task Spoiled_requests_never_make_the_service_fail_or_hang_or_write_half()
    {
        await using var host = await ServiceHost.StartAsync();
        var works = new LampWorks(6, LampWorks.DaysAgo(6));
        var seeds = LampHistory.Build(5, LampWorks.DaysAgo(6), 3);
        await Terminal.PostAllAsync(host.Admin, seeds, batch: 100);
        var endpoints = Expectations.All(works).Where(e => e.IsApi && e.Method != HttpMethod.Delete).ToArray();
        var dice = new Dice(20_261);
        List<string> wrong = [];
        var statuses = new SortedDictionary<int, int>();
        var requests = Enumerable.Range(0, Requests).Select(_ => Spoiled(dice, dice.Pick(endpoints), seeds, works)).ToArray();
        await Parallel.ForEachAsync(requests, new ParallelOptions { MaxDegreeOfParallelism = 4 }, async (spoiled, _) =>
        {
            var status = await StatusAsync(host, spoiled);
            lock (wrong)
            {
                statuses[status] = statuses.GetValueOrDefault(status) + 1;
                if (status is 0 or >= 500)
                {
                    wrong.Add(string.Create(CultureInfo.InvariantCulture, $"{status} {spoiled}"));
                }
            }
        });

        Assert.True(wrong.Count == 0, string.Join('\n', wrong.Take(20)));

        // The spoiling reaches both sides: much is refused, and some of it is still good.
        Assert.True(statuses.GetValueOrDefault(400) > Requests / 5 && statuses.Where(s => s.Key < 300).Sum(s => s.Value) > Requests / 50, string.Join(' ', statuses));
        await RequireWholeAsync(host, works);
    }

    [Fact]
    public async Task Broken_requests_on_the_wire_never_make_the_service_fail_or_hang()
    {
        await using var host = await ServiceHost.StartAsync();
        var works = new LampWorks(7, LampWorks.DaysAgo(6));
        await Terminal.PostAllAsync(host.Admin, works.Definitions(), batch: 100);
        var dice = new Dice(20_262);
        List<string> wrong = [];
        for (var i = 0; i < Requests / 10; i++)
        {
            var bytes = Raw(dice, host.AdministratorKey, works.SimpleLamp(900 + i, 0)[0].Json);
            var first = await TalkAsync(host.Address, bytes);
            if (first.StartsWith("HTTP/1.1 5", StringComparison.Ordinal) && !first.StartsWith("HTTP/1.1 505", StringComparison.Ordinal))
            {
                wrong.Add($"{first} to {Encoding.Latin1.GetString(bytes)}");
            }
        }

        Assert.True(wrong.Count == 0, string.Join('\n', wrong.Take(20)));
        await RequireWholeAsync(host, works);
    }

    [Theory]
    [InlineData("ffffffff")]
    [InlineData("ffffffffffffffff")]
    [InlineData("zz")]
    public async Task A_chunk_whose_size_cannot_be_read_is_a_bad_request_wherever_a_body_is_taken(string size)
    {
        await using var host = await ServiceHost.StartAsync();
        foreach (var (path, type) in new[] { ("facts", "application/json"), ("facts/batch", "application/x-ndjson"), ("scopes", "application/json") })
        {
            var bytes = Encoding.ASCII.GetBytes(
                $"POST /api/{path} HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer {host.AdministratorKey}\r\nContent-Type: {type}\r\nTransfer-Encoding: chunked\r\n\r\n{size}\r\n");
            Assert.Equal($"HTTP/1.1 400 Bad Request to {path}", $"{await TalkAsync(host.Address, bytes, isHalfClosed: false)} to {path}");
        }
    }

    // Whole: each event has its receipt and each unit the rows of its facts, and the service still does its work.
    private static async Task RequireWholeAsync(ServiceHost host, LampWorks works)
    {
        // A spoiled definition that is still good has been taken: what the lamp needs is defined anew.
        await Terminal.PostAllAsync(host.Admin, [.. works.Definitions().Where(d => d.Type is "site-defined" or "station-defined" or "item-defined" or "person-defined").Select(d => Anew(works, d))], batch: 50);
        await Terminal.PostAllAsync(host.Admin, works.SimpleLamp(99_999, 0), batch: 1);
        using var ready = await host.Anonymous.GetAsync("/health/ready");
        Assert.True(ready.IsSuccessStatusCode);
        await Tables.SettleAsync(host.Database);
        Assert.Equal(await Tables.CountAsync(host.Database, "events.mt_events"), await Tables.CountAsync(host.Database, "traceability.receipt"));
        Assert.Equal(
            await Tables.CountAsync(host.Database, "events.mt_events"),
            await Tables.CountAsync(host.Database, "events.mt_events e join traceability.receipt r on r.fact_id = e.id and r.stream = e.stream_id and r.version = e.version"));
        Tables.RequireNone(await FreshJudgement.DifferencesAsync(host.Database));
    }

    private static Sent Anew(LampWorks works, Sent definition)
    {
        var id = works.Id();
        var json = LampWorks.With(LampWorks.With(definition.Json, "factId", id.ToString()), "occurredAt", TimeProvider.System.GetUtcNow().ToString("O", CultureInfo.InvariantCulture));
        return definition with { Id = id, Json = json };
    }

    private static async Task<int> StatusAsync(ServiceHost host, SpoiledRequest spoiled)
    {
        using var timeout = new CancellationTokenSource(Patience);
        using var request = spoiled.Message(host.Address);
        try
        {
            using var answer = await host.Admin.SendAsync(request, timeout.Token);
            await answer.Content.CopyToAsync(Stream.Null, timeout.Token);
            return (int)answer.StatusCode;
        }
        catch (HttpRequestException)
        {
            // A connection that the server closes in the middle of a body that it refuses is an answer of a kind.
            return spoiled.IsLarge ? 413 : 0;
        }
        catch (OperationCanceledException)
        {
            return 0;
        }
    }

    private static SpoiledRequest Spoiled(Dice dice, Expectation endpoint, List<Sent> seeds, LampWorks works)
    {
        if (endpoint.MediaType is null)
        {
            return new(endpoint.Method, SpoiledPath(dice, endpoint), null, null, null);
        }

        var path = dice.Chance(10) ? SpoiledPath(dice, endpoint) : endpoint.Path;
        var type = dice.Chance(3) ? dice.Pick("text/plain", "application/json; charset=utf-16", "x", "application/json;;") : endpoint.MediaType;
        var sentAt = dice.Chance(5) ? dice.Pick("now", "0001-01-01T00:00:00Z", "9999-12-31T23:59:59.9999999-14:00", "", "2026-01-01T00:00:00+99:99") : null;
        var body = endpoint.Name switch
        {
            "POST /api/facts" => Mutation.Of(dice, Fresh(dice, seeds)),
            "POST /api/facts/batch" => Mutation.Lines(dice, [.. Enumerable.Range(0, dice.Int(1, 6)).Select(_ => Fresh(dice, seeds))]),
            "POST /api/master-data" => Mutation.Of(dice, MasterData),
            _ => Mutation.Of(dice, endpoint.Bodies.Length > 0 && dice.Chance(50) ? dice.Pick(endpoint.Bodies).Body : endpoint.Body),
        };
        _ = works;
        return new(endpoint.Method, path, body, type, sentAt);
    }

    // Mostly with an id of its own, so that it gets past the receipts.
    private static string Fresh(Dice dice, List<Sent> seeds)
    {
        var seed = dice.Pick(seeds);
        return dice.Chance(10) ? seed.Json : LampWorks.With(seed.Json, "factId", JsonValue.Create(dice.Id().ToString()));
    }

    private static string SpoiledPath(Dice dice, Expectation endpoint)
    {
        var path = endpoint.PathValues.Length > 0 && dice.Chance(70)
            ? endpoint.With(dice.Pick(endpoint.PathValues), Uri.EscapeDataString(Mutation.Text(dice)).Replace("%00", "%01", StringComparison.Ordinal))
            : endpoint.Path.Split('?')[0];
        var names = endpoint.BadQueries.Select(q => q.Pointer).Append("limt").Distinct().ToArray();
        var query = Enumerable.Range(0, dice.Int(0, 3)).Select(_ => dice.Chance(40) && endpoint.BadQueries.Length > 0
            ? dice.Pick(endpoint.BadQueries).Query
            : $"{dice.Pick(names)}={Uri.EscapeDataString(Mutation.Text(dice))}");
        return string.Join('&', query.Prepend($"{path}?item=LAMP")) is var all && dice.Chance(80) ? all : path;
    }

    private const string MasterData =
        """
        {"asOf":"2026-01-05T08:00:00+01:00","sites":[{"site":"M1","description":"d","timeZone":"Europe/Lisbon"}],"stations":[{"station":"M2","site":"M1","description":"d"}],
        "items":[{"item":"M3","kind":"part","description":"d"}],"people":[{"person":"M4","displayName":"M4","qualifications":[{"qualification":"BONDING"}]}],
        "tools":[{"tool":"M5","toolClass":"SCREWDRIVER","description":"d","needsCalibration":true,"calibrations":[{"foundGood":true,"leftGood":true}],"settings":[{"setting":"5","torque":{"value":1.2,"unit":"N.m"}}]}],
        "lots":[{"item":"M3","lot":"L1","isReleased":true,"quantity":{"value":3,"unit":"g"},"containers":[{"container":"T1"}]}],
        "routings":[{"item":"M3","revision":"A","description":"d","release":true,"steps":[{"code":"A","name":"a","prerequisites":[]}]}]}
        """;

    private static byte[] Raw(Dice dice, string key, string body)
    {
        var length = dice.Pick("", "-1", "abc", "5", "99999999999999999999", "10", "1000");
        var lines = new List<string>
        {
            $"{dice.Pick("POST", "post", "PO ST", "GET", "BREW", "")} {dice.Pick("/api/facts", "/api/facts/batch", "/api/units/LAMP/1", "api/facts", "/%", "/api/units/%ff/%c3%28", "/../../etc", "*")} {dice.Pick("HTTP/1.1", "HTTP/1.0", "HTTP/9.9", "HTTP", "")}",
            "Host: 127.0.0.1",
            $"Authorization: {dice.Pick("Bearer", "bearer", "Basic")} {key}",
            $"Content-Type: {dice.Pick("application/json", "application/x-ndjson", "", "a/b/c")}",
            dice.Chance(50) ? $"Content-Length: {length}" : $"Transfer-Encoding: {dice.Pick("chunked", "gzip", "chunked, chunked", "x")}",
        };
        if (dice.Chance(30))
        {
            lines.Add(dice.Pick("X: " + new string('x', 40_000), "No colon here", ": empty", "Content-Length: 7", "Sent-At: \u0001", "Expect: 100-continue", "Connection: Upgrade\r\nUpgrade: h2c"));
        }

        var text = string.Join("\r\n", lines) + "\r\n\r\n" + dice.Pick(body, $"{body.Length:x}\r\n{body}\r\n0\r\n\r\n", "zz\r\nabc\r\n", "ffffffffffffffff\r\n", body[..(body.Length / 2)]);
        return Encoding.Latin1.GetBytes(text[..(dice.Chance(15) ? dice.Int(1, text.Length) : text.Length)]);
    }

    // What is left open by the sender is closed by it: the answer that came until then counts.
    private static async Task<string> TalkAsync(Uri address, byte[] bytes, bool isHalfClosed = true)
    {
        using var client = new TcpClient();
        using var timeout = new CancellationTokenSource(Patience);
        await client.ConnectAsync(address.Host, address.Port, timeout.Token);
        try
        {
            var stream = client.GetStream();
            await stream.WriteAsync(bytes, timeout.Token);
            if (isHalfClosed)
            {
                client.Client.Shutdown(SocketShutdown.Send);
            }

            var buffer = new byte[4096];
            var read = await stream.ReadAsync(buffer, timeout.Token);
            return Encoding.Latin1.GetString(buffer, 0, read).Split('\r')[0];
        }
        catch (Exception e) when (e is IOException or SocketException)
        {
            return string.Empty;
        }
    }

    private sealed record SpoiledRequest(HttpMethod Method, string Path, byte[]? Body, string? MediaType, string? SentAt)
    {
        public bool IsLarge => Body?.Length > 32_000;

        public HttpRequestMessage Message(Uri address)
        {
            var request = new HttpRequestMessage(Method, new Uri(address, Path));
            if (Body is not null)
            {
                request.Content = new ByteArrayContent(Body);
                request.Content.Headers.TryAddWithoutValidation("Content-Type", MediaType);
            }

            if (SentAt is not null)
            {
                request.Headers.TryAddWithoutValidation("Sent-At", SentAt);
            }

            return request;
        }

        public override string ToString() => $"{Method} {Path} {MediaType} {SentAt} {(Body is null ? string.Empty : Encoding.Latin1.GetString(Body.AsSpan(0, Math.Min(Body.Length, 1_500))))}";
    }
}
