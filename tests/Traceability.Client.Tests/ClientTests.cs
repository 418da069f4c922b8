using System.Net;
using System.Text;
using Traceability.Contracts;

namespace Traceability.Client.Tests;

/// <summary>How the client behaves when the service does not.</summary>
public sealed class ClientTests : IDisposable
{
    private readonly FakeService service = new();

    public void Dispose() => service.Dispose();

    [Fact]
    public async Task A_fact_is_tried_again_with_the_same_id_and_a_fresh_time()
    {
        service.OnRequest = n => n < 2 ? FakeService.Answer(FakeService.Refusal(503, ProblemCodes.StoreUnavailable)) : null;
        using var client = service.Client(FakeService.Options with { FirstWait = TimeSpan.FromMilliseconds(30) });

        var outcome = Assert.IsType<FactOutcome.Recorded>(await client.RecordAsync(Some.Step("1")));

        Assert.Equal(3, service.Requests);
        Assert.Equal(outcome.Receipt.FactId, service.Recorded.Single().GetProperty("factId").GetGuid());
        Assert.Equal(3, service.SentAt.Distinct(StringComparer.Ordinal).Count());
    }

    [Fact]
    public async Task After_the_last_try_the_service_s_own_word_is_given()
    {
        service.OnRequest = _ => FakeService.Answer(FakeService.Refusal(503, ProblemCodes.StoreUnavailable));
        using var client = service.Client();

        var later = Assert.IsType<FactOutcome.Later>(await client.RecordAsync(Some.Step("1")));
        Assert.Equal(ProblemCodes.StoreUnavailable, later.Problem.Code);
        Assert.Equal(FakeService.Options.TriesMax, service.Requests);
    }

    [Fact]
    public async Task Retry_After_is_waited_for()
    {
        service.OnRequest = n =>
        {
            if (n > 0)
            {
                return null;
            }

            var answer = FakeService.Answer(FakeService.Refusal(429, "too-many"));
            answer.Headers.RetryAfter = new(TimeSpan.FromSeconds(1));
            return answer;
        };
        using var client = service.Client();
        var began = TimeProvider.System.GetTimestamp();

        Assert.IsType<FactOutcome.Recorded>(await client.RecordAsync(Some.Step("1")));

        Assert.True(TimeProvider.System.GetElapsedTime(began) > TimeSpan.FromMilliseconds(950));
    }

    [Fact]
    public async Task A_refusal_gives_every_fault_and_is_not_tried_again()
    {
        service.OnFact = _ => FakeService.Refusal(400, ProblemCodes.FactMalformed, ("/step", "is missing"), ("/unit/serial", "is too long"));
        using var client = service.Client();

        var refused = Assert.IsType<FactOutcome.Refused>(await client.RecordAsync(Some.Step("1")));

        Assert.Equal(["/step: is missing", "/unit/serial: is too long"], refused.Problem.Errors!.Select(e => $"{e.Pointer}: {e.Detail}"));
        Assert.Equal(1, service.Requests);
    }

    [Fact]
    public async Task A_question_that_is_refused_throws_the_problem()
    {
        service.OnRequest = _ => FakeService.Answer(FakeService.Refusal(404, ProblemCodes.UnitUnknown, ("serial", "is not known")));
        using var client = service.Client();

        var problem = await Assert.ThrowsAsync<TraceabilityProblemException>(() => client.GetUnitAsync(new() { Item = "LAMP", Serial = "1" }));

        Assert.Equal((404, ProblemCodes.UnitUnknown), (problem.Status, problem.Code));
        Assert.Contains("serial: is not known", problem.Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task An_answer_that_is_none_of_the_service_is_said_to_be_so()
    {
        service.OnRequest = _ => new(HttpStatusCode.BadGateway) { Content = new StringContent("<html>", Encoding.UTF8, "text/html") };
        using var client = service.Client(FakeService.Options with { TriesMax = 1 });

        var problem = await Assert.ThrowsAsync<TraceabilityProblemException>(() => client.GetItemsAsync());

        Assert.Equal((502, ProblemCodes.Unexpected), (problem.Status, problem.Code));
    }

    [Theory]
    [InlineData("")]
    [InlineData("{\"line\":1,\"status\":201}\n")]
    [InlineData("{\"line\":2,\"status\":201}\n{\"line\":1")]
    [InlineData("not json\n")]
    public async Task A_batch_whose_answer_does_not_fit_counts_as_not_answered(string body)
    {
        service.OnRequest = _ => new(HttpStatusCode.OK) { Content = new StringContent(body, Encoding.UTF8, "application/x-ndjson") };
        using var client = service.Client(FakeService.Options with { TriesMax = 1 });

        await Assert.ThrowsAsync<TraceabilityUnreachableException>(() => client.RecordBatchAsync([Some.Step("1"), Some.Step("2")]));
    }

    [Fact]
    public async Task When_nothing_answers_the_circuit_opens_and_closes_again()
    {
        var isDown = true;
        service.OnRequest = _ => isDown ? throw new HttpRequestException("no route") : null;
        using var client = service.Client(FakeService.Options with { TriesMax = 1, CircuitTriesMin = 4, CircuitBreak = TimeSpan.FromMilliseconds(500) });
        for (var i = 0; i < 4; i++)
        {
            Assert.False((await Assert.ThrowsAsync<TraceabilityUnreachableException>(() => client.RecordAsync(Some.Step("1")))).IsCircuitOpen);
        }

        var requests = service.Requests;
        var kept = await Assert.ThrowsAsync<TraceabilityUnreachableException>(() => client.RecordAsync(Some.Step("1")));
        Assert.True(kept.IsCircuitOpen);
        Assert.True(client.IsCircuitOpen);
        Assert.InRange(kept.RetryAfter!.Value, TimeSpan.FromTicks(1), TimeSpan.FromMilliseconds(500));
        Assert.Equal(requests, service.Requests);

        isDown = false;
        await Task.Delay(600);
        Assert.IsType<FactOutcome.Recorded>(await client.RecordAsync(Some.Step("1")));
        Assert.False(client.IsCircuitOpen);
    }

    [Fact]
    public async Task A_try_that_takes_too_long_is_given_up()
    {
        using var slow = new SlowHandler();
        using var client = new TraceabilityClient(FakeService.Options with { TryTimeout = TimeSpan.FromMilliseconds(50), TriesMax = 3 }, new HttpClient(slow, disposeHandler: false));

        var gone = await Assert.ThrowsAsync<TraceabilityUnreachableException>(() => client.GetItemsAsync());

        Assert.Contains("in time", gone.Message, StringComparison.Ordinal);
        Assert.Equal(3, slow.Requests);
    }

    [Fact]
    public async Task A_caller_who_gives_up_is_not_told_of_the_network()
    {
        using var slow = new SlowHandler();
        using var client = new TraceabilityClient(FakeService.Options, new HttpClient(slow, disposeHandler: false));
        using var stop = new CancellationTokenSource(50);

        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => client.GetItemsAsync(cancellation: stop.Token));
    }

    [Fact]
    public async Task The_key_is_in_no_message()
    {
        service.OnRequest = _ => throw new HttpRequestException("no route");
        using var client = service.Client(FakeService.Options with { TriesMax = 1 });

        var gone = await Assert.ThrowsAsync<TraceabilityUnreachableException>(() => client.GetItemsAsync());

        Assert.DoesNotContain(FakeService.Options.Key, gone.ToString(), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(0)]
    [InlineData(0.4)]
    [InlineData(-7_200)]
    [InlineData(86_400)]
    public void The_offset_of_the_service_is_bounded_by_its_answers(double ahead)
    {
        // The true offset is known here; answers tell whole seconds, cut off and up to a second old, as the Date header does.
        var clock = new TestClock();
        var measured = new ServerClock(clock);
        var offset = TimeSpan.FromSeconds(-ahead);
        var dice = new Acceptance.Robustness.Dice(11);
        for (var i = 0; i < 40; i++)
        {
            var asked = Some.Noon.AddSeconds(i * 7.31);
            var told = asked + TimeSpan.FromMilliseconds(dice.Int(0, 40)) + offset;
            var answered = asked + TimeSpan.FromMilliseconds(dice.Int(40, 90));
            var header = new DateTimeOffset(told.Ticks - (told.Ticks % TimeSpan.TicksPerSecond), TimeSpan.Zero) - TimeSpan.FromSeconds(dice.Int(0, 1));
            measured.Learn(asked, answered, header < told - ServerClock.DateFineness ? header.AddSeconds(1) : header, ServerClock.DateFineness);
            var known = measured.Current!;
            Assert.InRange((known.Offset - offset).Duration(), TimeSpan.Zero, known.Uncertainty + TimeSpan.FromTicks(1));
        }

        Assert.True(measured.Current!.Uncertainty < TimeSpan.FromMilliseconds(400), $"{measured.Current}");
    }

    [Fact]
    public void A_clock_that_was_set_is_measured_anew()
    {
        var measured = new ServerClock(new TestClock());
        measured.Learn(Some.Noon, Some.Noon.AddSeconds(0.1), Some.Noon, ServerClock.DateFineness);
        measured.Learn(Some.Noon.AddHours(1), Some.Noon.AddHours(1).AddSeconds(0.1), Some.Noon.AddSeconds(10), ServerClock.DateFineness);

        Assert.Equal(-3_590, measured.Current!.Offset.TotalSeconds, 2.0);
    }

    private sealed class SlowHandler : HttpMessageHandler
    {
        public int Requests { get; private set; }

        protected override async Task<HttpResponseMessage> SendAsync(HttpRequestMessage request, CancellationToken cancellationToken)
        {
            Requests++;
            await Task.Delay(Timeout.Infinite, cancellationToken);
            throw new System.Diagnostics.UnreachableException();
        }
    }
}
