using System.Net;
using System.Text.Json;
using Traceability.Acceptance.Robustness;
using Traceability.Client.Outbox;
using Traceability.Contracts;

namespace Traceability.Client.Tests.Outbox;

/// <summary>In which order an outbox is sent, and what becomes of what can't be.</summary>
public sealed class SenderTests : IDisposable
{
    private static readonly OutboxSenderOptions Quick = new() { FirstWait = TimeSpan.FromMilliseconds(2), WaitMax = TimeSpan.FromMilliseconds(10), UnknownPause = TimeSpan.FromMilliseconds(20) };

    private readonly OutboxFolder folder = new();
    private readonly FakeService service = new();

    public void Dispose()
    {
        service.Dispose();
        folder.Dispose();
    }

    [Fact]
    public async Task Facts_of_one_unit_go_one_after_another_and_those_of_others_beside_them()
    {
        await using var outbox = await folder.OpenAsync();
        foreach (var unit in (string[])["1", "2", "3", "1", "1"])
        {
            await outbox.EnqueueAsync(Some.Step(unit));
        }

        var report = await SendAsync(outbox);

        Assert.Equal((5, 0, 0), (report.Sent, report.Refused, report.Waiting));
        Assert.Equal([3, 1, 1], service.Batches);
        var sent = await outbox.ListAsync(OutboxState.Sent);
        Assert.Equal(5, sent.Count);
        Assert.All(sent, e => Assert.Equal(e.FactId, e.Receipt!.FactId));
    }

    [Fact]
    public async Task Nothing_is_sent_before_a_definition_that_came_in_earlier()
    {
        await using var outbox = await folder.OpenAsync();
        await outbox.EnqueueAsync(Some.Step("1"));
        await outbox.EnqueueAsync(Some.Item("A"));
        await outbox.EnqueueAsync(Some.Item("B"));
        await outbox.EnqueueAsync(Some.Step("2"));
        await outbox.EnqueueAsync(Some.Step("3"));

        await SendAsync(outbox);

        Assert.Equal([2, 1, 2], service.Batches);
        Assert.Equal(["1", "A", "B", "2", "3"], service.Recorded.Select(NameOf));
    }

    [Fact]
    public async Task A_correction_goes_in_the_lane_of_what_it_corrects()
    {
        await using var outbox = await folder.OpenAsync();
        var wrong = await outbox.EnqueueAsync(Some.Step("1"));
        var undone = await outbox.EnqueueJsonAsync($$"""{"type":"record-voided","record":"{{wrong.FactId}}","occurredAt":"2026-03-02T12:00:00Z","reason":"Wrong unit","authorisedBy":"P-9"}""");
        var elsewhere = await outbox.EnqueueJsonAsync($$"""{"type":"record-voided","record":"{{FactIds.Next()}}","occurredAt":"2026-03-02T12:00:00Z","reason":"Wrong unit","authorisedBy":"P-9"}""");

        Assert.Equal(wrong.Lane, undone.Lane);
        Assert.StartsWith("record/", elsewhere.Lane, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    [InlineData(3)]
    public async Task Whatever_fails_on_the_way_each_lane_arrives_in_order_and_once(int seed)
    {
        var dice = new Dice((ulong)seed);
        var expected = new Dictionary<string, List<Guid>>(StringComparer.Ordinal);
        var outbox = await folder.OpenAsync();
        for (var i = 0; i < 300; i++)
        {
            var entry = dice.Chance(4) ? await outbox.EnqueueAsync(Some.Item($"I{i}")) : await outbox.EnqueueAsync(Some.Step($"{dice.Int(1, 12)}"));
            expected.TryAdd(entry.Lane, []);
            expected[entry.Lane].Add(entry.FactId);
        }

        // Requests fail, single facts are answered with 503, and the program is started again now and then.
        var unavailable = 0;
        service.OnRequest = _ => dice.Chance(20) ? FakeService.Answer(FakeService.Refusal(503, ProblemCodes.StoreUnavailable)) : dice.Chance(10) ? throw new HttpRequestException("cut") : null;
        service.OnFact = _ => dice.Chance(10) && ++unavailable > 0 ? FakeService.Refusal(503, ProblemCodes.StoreUnavailable) : null;
        for (var runs = 0; outbox.View().Waiting > 0; runs++)
        {
            Assert.True(runs < 2_000);
            await SendAsync(outbox);
            if (dice.Chance(10))
            {
                await outbox.DisposeAsync();
                outbox = await folder.OpenAsync();
            }
        }

        await outbox.DisposeAsync();
        Assert.NotEqual(0, unavailable);
        Assert.Equal(300, service.Recorded.Count);
        var arrived = service.Recorded.Select((f, i) => (Lane: FactLane.Of(f).Lane, Id: f.GetProperty("factId").GetGuid(), Place: i)).ToLookup(f => f.Lane, StringComparer.Ordinal);
        Assert.All(expected, e => Assert.Equal(e.Value, arrived[e.Key].Select(f => f.Id)));
    }

    [Fact]
    public async Task A_refused_fact_stays_with_every_fault_until_a_person_decides()
    {
        service.OnFact = f => f.TryGetProperty("note", out _) ? null : FakeService.Refusal(400, ProblemCodes.FactMalformed, ("/unit/serial", "is too long"), ("/step", "has a space"));
        await using var outbox = await folder.OpenAsync();
        var one = await outbox.EnqueueAsync(Some.Step("1"));
        var two = await outbox.EnqueueAsync(Some.Step("2"));
        await outbox.EnqueueAsync(Some.Step("1", note: "the next one of the unit goes on"));

        Assert.Equal((1, 2, 0), await CountsAsync(outbox));
        var refused = await outbox.ListAsync(OutboxState.Refused);
        Assert.Equal([one.FactId, two.FactId], refused.Select(e => e.FactId));
        Assert.Equal(["/unit/serial", "/step"], refused[0].Problem!.Errors!.Select(e => e.Pointer));

        // Amended: under a new id, and the first says so. Dropped: kept, with the reason.
        var amended = await outbox.AmendAsync(one.FactId, JsonSerializer.Serialize(Some.Step("1", note: "amended") as Contracts.Facts.FactMessage, WireJson.Options), "P-9", "Typed wrong");
        var dropped = await outbox.DropAsync(two.FactId, "P-9", "Was a rehearsal");
        Assert.NotEqual(one.FactId, amended.FactId);
        Assert.Equal(one.FactId, amended.Amends);
        Assert.Equal((1, 0, 0), await CountsAsync(outbox));
        var first = (await outbox.FindAsync(one.FactId))!;
        Assert.Equal((OutboxState.Amended, amended.FactId, "P-9", "Typed wrong"), (first.State, first.AmendedAs!.Value, first.DecidedBy, first.Reason));
        Assert.Equal((OutboxState.Dropped, "Was a rehearsal"), (dropped.State, dropped.Reason));
        Assert.NotNull(dropped.Problem);
        await Assert.ThrowsAsync<OutboxException>(() => outbox.DropAsync(two.FactId, "P-9", "again"));
    }

    [Fact]
    public async Task A_refused_fact_can_be_sent_again_under_its_id()
    {
        var isKnown = false;
        service.OnFact = _ => isKnown ? null : FakeService.Refusal(404, ProblemCodes.UnitUnknown, ("/unit", "is not known"));
        await using var outbox = await folder.OpenAsync();
        var fact = await outbox.EnqueueAsync(Some.Step("1"));
        Assert.Equal((0, 1, 0), await CountsAsync(outbox));

        isKnown = true;
        await outbox.SendAgainAsync(fact.FactId, "P-9");

        Assert.Equal((1, 0, 0), await CountsAsync(outbox));
        Assert.Equal(fact.FactId, service.Recorded.Single().GetProperty("factId").GetGuid());
    }

    [Fact]
    public async Task What_another_terminal_has_not_reported_yet_is_waited_for_without_holding_up_other_units()
    {
        var isOpen = false;
        service.OnFact = f => NameOf(f) == "1" && !isOpen ? FakeService.Refusal(404, ProblemCodes.UnitUnknown) : null;
        await using var outbox = await folder.OpenAsync();
        await outbox.EnqueueAsync(Some.Step("1"));
        await outbox.EnqueueAsync(Some.Step("1", "TEST"));
        await outbox.EnqueueAsync(Some.Step("2"));
        using var stop = new CancellationTokenSource(TimeSpan.FromSeconds(20));
        var sender = new OutboxSender(outbox, Client(), Quick with { UnknownPatience = TimeSpan.FromMinutes(1) });
        var running = sender.RunAsync(stop.Token);
        await UntilAsync(() => outbox.View() is { Waiting: 2, Trouble.Problem.Code: ProblemCodes.UnitUnknown });

        isOpen = true;
        await UntilAsync(() => outbox.View().Waiting == 0);

        await stop.CancelAsync();
        await running;
        Assert.Equal(["2", "1", "1"], service.Recorded.Select(NameOf));
        Assert.Equal(0, outbox.View().Refused);
    }

    [Fact]
    public async Task One_fact_that_the_service_stumbles_over_does_not_hold_up_the_others()
    {
        service.OnRequest = _ => null;
        service.OnFact = f => NameOf(f) == "13" ? throw new HttpRequestException("500", null, HttpStatusCode.InternalServerError) : null;
        using var stumbling = new StumblingService(service);
        await using var outbox = await folder.OpenAsync();
        foreach (var unit in (string[])["12", "13", "14", "15"])
        {
            await outbox.EnqueueAsync(Some.Step(unit));
        }

        using var client = new TraceabilityClient(FakeService.Options with { TriesMax = 1 }, new HttpClient(stumbling, disposeHandler: false));
        using var stop = new CancellationTokenSource();
        var running = new OutboxSender(outbox, client, Quick).RunAsync(stop.Token);
        await UntilAsync(() => outbox.View() is { Waiting: 1, Sent: 3 });

        await stop.CancelAsync();
        await running;
        Assert.Equal("unit/LAMP/13", Assert.Single(await outbox.ListAsync(OutboxState.Waiting)).Lane);
    }

    [Fact]
    public async Task A_key_that_is_not_taken_refuses_no_fact()
    {
        service.OnRequest = _ => FakeService.Answer(FakeService.Refusal(401, ProblemCodes.KeyUnknown));
        await using var outbox = await folder.OpenAsync();
        await outbox.EnqueueAsync(Some.Step("1"));
        for (var i = 0; i < 5; i++)
        {
            Assert.Equal(ProblemCodes.KeyUnknown, (await SendAsync(outbox)).Trouble!.Problem!.Code);
        }

        Assert.Equal((0, 0, 1), await CountsAsync(outbox));
        Assert.NotNull(outbox.View().Trouble!.NextTryAt);
    }

    [Fact]
    public async Task What_is_settled_goes_after_its_time_and_what_is_open_never()
    {
        var clock = new TestClock();
        service.OnFact = f => NameOf(f) == "2" ? FakeService.Refusal(400, ProblemCodes.FactMalformed) : null;
        await using var outbox = await folder.OpenAsync(clock);
        await outbox.EnqueueAsync(Some.Step("1"));
        await outbox.EnqueueAsync(Some.Step("2"));
        await SendAsync(outbox);
        service.OnRequest = _ => throw new HttpRequestException("gone");
        await outbox.EnqueueAsync(Some.Step("3"));

        clock.Pass(TimeSpan.FromDays(8));
        Assert.Equal(1, await outbox.PruneAsync());
        var view = outbox.View();
        Assert.Equal((1, 1, 0), (view.Waiting, view.Refused, view.Sent));
        Assert.Equal(8, view.OldestWaiting!.Value.TotalDays, 0.1);
    }

    [Fact]
    public async Task What_becomes_due_just_after_the_last_look_is_not_slept_over()
    {
        service.OnFact = _ => FakeService.Refusal(404, ProblemCodes.UnitUnknown);
        var clock = new TestClock();
        await using var outbox = await folder.OpenAsync(clock);
        await outbox.EnqueueAsync(Some.Step("1"));
        var pause = TimeSpan.FromMinutes(20);
        var sender = new OutboxSender(outbox, Client(), Quick with { UnknownPatience = TimeSpan.FromHours(1), UnknownPause = pause });
        await sender.SendPendingAsync();
        Assert.Null(await outbox.NextBatchAsync(10, 100_000));
        Assert.InRange(outbox.UntilDue()!.Value, TimeSpan.FromMinutes(10), pause);

        clock.Pass(pause);

        Assert.Equal(TimeSpan.Zero, outbox.UntilDue());
        Assert.NotNull(await outbox.NextBatchAsync(10, 100_000));
    }

    private static string NameOf(JsonElement fact) =>
        fact.TryGetProperty("unit", out var unit) ? unit.GetProperty("serial").GetString()! : fact.GetProperty("item").GetString()!;

    private static async Task UntilAsync(Func<bool> holds)
    {
        for (var i = 0; !holds(); i++)
        {
            Assert.True(i < 2_000, "It did not come to pass within 20 s.");
            await Task.Delay(10);
        }
    }

    private TraceabilityClient Client() => service.Client(FakeService.Options with { TriesMax = 1 });

    private async Task<SendReport> SendAsync(FactOutbox outbox)
    {
        using var client = Client();
        return await new OutboxSender(outbox, client, Quick).SendPendingAsync();
    }

    private async Task<(int Sent, int Refused, int Waiting)> CountsAsync(FactOutbox outbox)
    {
        var report = await SendAsync(outbox);
        return (report.Sent, report.Refused, report.Waiting);
    }

    // A request that holds a fact which the service was not made for is answered 500 as a whole.
    private sealed class StumblingService(FakeService inner) : DelegatingHandler(inner)
    {
        protected override async Task<HttpResponseMessage> SendAsync(HttpRequestMessage request, CancellationToken cancellationToken)
        {
            try
            {
                return await base.SendAsync(request, cancellationToken);
            }
            catch (HttpRequestException e) when (e.StatusCode == HttpStatusCode.InternalServerError)
            {
                return FakeService.Answer(FakeService.Refusal(500, ProblemCodes.Unexpected));
            }
        }
    }
}
