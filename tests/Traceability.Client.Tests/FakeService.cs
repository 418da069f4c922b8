using System.Net;
using System.Text;
using System.Text.Json;
using Traceability.Contracts;

namespace Traceability.Client.Tests;

/// <summary>Answers in the service's place, as a test says, and remembers what it was sent.</summary>
internal sealed class FakeService : HttpMessageHandler
{
    private readonly Lock gate = new();
    private readonly List<JsonElement> recorded = [];
    private readonly List<string> sentAt = [];
    private readonly HashSet<Guid> ids = [];
    private int requests;

    /// <summary>What to do with a request as a whole, by its number from 0; null: judge its facts.</summary>
    public Func<int, HttpResponseMessage?> OnRequest { get; set; } = static _ => null;

    /// <summary>The problem that a fact is refused with, or null: it is recorded.</summary>
    public Func<JsonElement, Problem?> OnFact { get; set; } = static _ => null;

    /// <summary>How many facts each batch had.</summary>
    public List<int> Batches { get; } = [];

    public int Requests => Volatile.Read(ref requests);

    public IReadOnlyList<JsonElement> Recorded
    {
        get
        {
            lock (gate)
            {
                return [.. recorded];
            }
        }
    }

    public IReadOnlyList<string> SentAt
    {
        get
        {
            lock (gate)
            {
                return [.. sentAt];
            }
        }
    }

    public static Problem Refusal(int status, string code, params (string Pointer, string Detail)[] errors) => new()
    {
        Type = $"/problems/{code}",
        Title = "It is refused.",
        Status = status,
        Detail = "In detail.",
        Code = code,
        Errors = [.. errors.Select(e => new ProblemError { Pointer = e.Pointer, Detail = e.Detail })],
    };

    public static HttpResponseMessage Answer(Problem problem) => new((HttpStatusCode)problem.Status)
    {
        Content = new StringContent(JsonSerializer.Serialize(problem, WireJson.Options), Encoding.UTF8, "application/problem+json"),
    };

    public TraceabilityClient Client(TraceabilityClientOptions? options = null, TimeProvider? time = null) =>
        new(options ?? Options, new HttpClient(this, disposeHandler: false), time);

    public static TraceabilityClientOptions Options { get; } = new()
    {
        Address = new("http://service.invalid"),
        Key = "secret",
        FirstWait = TimeSpan.FromMilliseconds(5),
        WaitMax = TimeSpan.FromMilliseconds(20),
        CircuitTriesMin = 1_000,
    };

    protected override async Task<HttpResponseMessage> SendAsync(HttpRequestMessage request, CancellationToken cancellationToken)
    {
        lock (gate)
        {
            sentAt.Add(request.Headers.TryGetValues("Sent-At", out var values) ? values.Single() : string.Empty);
        }

        if (OnRequest(Interlocked.Increment(ref requests) - 1) is { } answer)
        {
            return answer;
        }

        var body = request.Content is null ? string.Empty : await request.Content.ReadAsStringAsync(cancellationToken);
        if (request.RequestUri!.AbsolutePath.EndsWith("/batch", StringComparison.Ordinal))
        {
            var lines = body.Split('\n', StringSplitOptions.RemoveEmptyEntries);
            lock (gate)
            {
                Batches.Add(lines.Length);
                var answers = lines.Select((l, i) => JsonSerializer.Serialize(Judge(Some.Parse(l), i + 1), WireJson.Options) + "\n");
                return new(HttpStatusCode.OK) { Content = new StringContent(string.Concat(answers), Encoding.UTF8, "application/x-ndjson") };
            }
        }

        if (request.Method == HttpMethod.Post)
        {
            lock (gate)
            {
                var line = Judge(Some.Parse(body), 1);
                return line.Problem is { } problem
                    ? Answer(problem)
                    : new((HttpStatusCode)line.Status) { Content = new StringContent(JsonSerializer.Serialize(line.Receipt, WireJson.Options), Encoding.UTF8, "application/json") };
            }
        }

        return new(HttpStatusCode.OK) { Content = new StringContent("{}", Encoding.UTF8, "application/json") };
    }

    private BatchLine Judge(JsonElement fact, int number)
    {
        if (OnFact(fact) is { } problem)
        {
            return new() { Line = number, Status = problem.Status, Problem = problem };
        }

        var id = fact.GetProperty("factId").GetGuid();
        var isRepeat = !ids.Add(id);
        if (!isRepeat)
        {
            recorded.Add(fact);
        }

        var receipt = new FactReceipt
        {
            FactId = id,
            Type = fact.GetProperty("type").GetString()!,
            Stream = "unit/LAMP/1",
            Version = 1,
            RecordedAt = Some.Noon,
            OccurredAt = Some.Noon,
            IsRepeat = isRepeat,
            Findings = [],
        };
        return new() { Line = number, FactId = id, Status = isRepeat ? 200 : 201, Receipt = receipt };
    }
}
