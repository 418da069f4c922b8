using System.Net;
using System.Reflection;
using System.Runtime.CompilerServices;
using System.Text;
using System.Text.Json;
using System.Text.RegularExpressions;
using Traceability.Contracts.Facts;
using Traceability.Contracts.Scope;

namespace Traceability.Client.Tests;

/// <summary>The client beside the contract: every operation has a method, and what a method sends is in the contract.</summary>
public sealed partial class OperationTests
{
    private const BindingFlags Own = BindingFlags.Public | BindingFlags.Instance | BindingFlags.DeclaredOnly;

    // What the client leaves out, and why.
    private static readonly Dictionary<string, string> LeftOut = new(StringComparer.Ordinal)
    {
        ["listKeys"] = "Keys are an administrator's affair, and none is handed to a program that could leak it.",
        ["createKey"] = "As listKeys.",
        ["revokeKey"] = "As listKeys.",
        ["setSigningSecret"] = "A person sets a secret where nobody else reads it.",
        ["removeSigningSecret"] = "As setSigningSecret.",
        ["getRebuilds"] = "Rebuilds are for whoever runs the service.",
        ["postRebuild"] = "As getRebuilds.",
        ["postHistory"] = "An import is a stream of any length, made once by a tool of its own.",
        ["getReadiness"] = "Whether an instance may be given requests is asked by what stands before it.",
        ["getProblem"] = "A page for people; every problem's code and sentence come with the answer.",
    };

    private static readonly Lazy<Task<List<Call>>> Calls = new(CallAsync);

    [Fact]
    public async Task Every_operation_of_the_contract_has_a_method_or_a_reason_why_not()
    {
        var calls = await Calls.Value;
        var operations = Operations();
        var met = calls.Select(c => Find(operations, c)?.Id).ToHashSet(StringComparer.Ordinal);

        Assert.Equal([], calls.Where(c => Find(operations, c) is null).Select(c => $"{c.Method} asks {c.Verb} {c.Path}, which is not in the contract"));
        Assert.Equal(LeftOut.Keys.Order(StringComparer.Ordinal), operations.Select(o => o.Id).Where(id => !met.Contains(id)).Order(StringComparer.Ordinal));
    }

    [Fact]
    public async Task Every_parameter_of_an_operation_can_be_given_and_no_other_is_sent()
    {
        var operations = Operations();
        var sent = (await Calls.Value).GroupBy(c => Find(operations, c)!.Id, StringComparer.Ordinal)
            .ToDictionary(g => g.Key, g => g.SelectMany(c => c.Parameters).ToHashSet(StringComparer.OrdinalIgnoreCase), StringComparer.Ordinal);
        List<string> wrong = [];
        foreach (var operation in operations.Where(o => sent.ContainsKey(o.Id)))
        {
            wrong.AddRange(operation.Parameters.Where(p => !sent[operation.Id].Contains(p)).Select(p => $"{operation.Id}: {p} can't be given"));
            wrong.AddRange(sent[operation.Id].Except(operation.Parameters, StringComparer.OrdinalIgnoreCase).Select(p => $"{operation.Id}: {p} is sent and not in the contract"));
        }

        Assert.Equal([], wrong);
    }

    // Calls every method with everything given, and notes what each would send.
    private static async Task<List<Call>> CallAsync()
    {
        using var notes = new Notes();
        using var http = new HttpClient(notes);
        using var client = new TraceabilityClient(new() { Address = new("http://127.0.0.1:1"), Key = "k", TriesMax = 1, CircuitTriesMin = 10_000 }, http);
        List<Call> calls = [];
        foreach (var method in typeof(TraceabilityClient).GetMethods(Own).Where(m => !m.IsSpecialName && m.Name != nameof(IDisposable.Dispose)))
        {
            notes.Seen.Clear();
            await AwaitAsync(method.Invoke(client, [.. method.GetParameters().Select(p => Example(p.ParameterType))])!);
            Assert.True(notes.Seen.Count == 1, $"{method.Name} made {notes.Seen.Count} requests");
            calls.Add(notes.Seen[0] with { Method = method.Name });
        }

        // Only one of a pair is sent: without a container it is the scope of the lot.
        notes.Seen.Clear();
        await AwaitAsync(client.GetWholeScopeAsync(new() { Item = "a", Lot = "a" }));
        calls.Add(notes.Seen[0] with { Method = nameof(client.GetWholeScopeAsync) });
        return calls;
    }

    private static async Task AwaitAsync(object answer)
    {
        try
        {
            if (answer is Task task)
            {
                await task;
                return;
            }

            var element = answer.GetType().GetInterfaces().Single(i => i.IsGenericType && i.GetGenericTypeDefinition() == typeof(IAsyncEnumerable<>)).GenericTypeArguments[0];
            await (Task)typeof(OperationTests).GetMethod(nameof(FirstAsync), BindingFlags.NonPublic | BindingFlags.Static)!.MakeGenericMethod(element).Invoke(null, [answer])!;
        }
        catch (TraceabilityProblemException)
        {
            // Every request is answered with a problem.
        }
    }

    private static async Task FirstAsync<T>(IAsyncEnumerable<T> pages)
    {
        await foreach (var page in pages)
        {
            _ = page;
            return;
        }
    }

    private static object? Example(Type type)
    {
        var inner = Nullable.GetUnderlyingType(type) ?? type;
        if (inner == typeof(CancellationToken))
        {
            return CancellationToken.None;
        }

        if (inner == typeof(string))
        {
            return "text/plain";
        }

        if (inner == typeof(bool) || inner == typeof(int))
        {
            return Convert.ChangeType(1, inner, System.Globalization.CultureInfo.InvariantCulture);
        }

        if (inner == typeof(ReadOnlyMemory<byte>))
        {
            return new ReadOnlyMemory<byte>("{}"u8.ToArray());
        }

        if (inner.IsGenericType && inner.GetGenericTypeDefinition() == typeof(IReadOnlyList<>))
        {
            var list = Array.CreateInstance(inner.GenericTypeArguments[0], 1);
            list.SetValue(Example(inner.GenericTypeArguments[0]), 0);
            return list;
        }

        return inner == typeof(FactMessage) ? Some.Step("1")
            : inner == typeof(SuspectNode) ? new LotSuspect { Item = "a", Lot = "a" }
            : inner.IsValueType ? Activator.CreateInstance(inner)
            : Filled(inner);
    }

    private static object Filled(Type type)
    {
        var made = RuntimeHelpers.GetUninitializedObject(type);
        foreach (var property in type.GetProperties(BindingFlags.Public | BindingFlags.Instance).Where(p => p.CanWrite))
        {
            property.SetValue(made, Example(property.PropertyType));
        }

        return made;
    }

    private static Operation? Find(IReadOnlyList<Operation> operations, Call call) =>
        operations.Where(o => o.Verb == call.Verb && o.Path.IsMatch(call.Path)).MinBy(o => o.Holes);

    private static List<Operation> Operations()
    {
        using var contract = JsonDocument.Parse(File.ReadAllText(Path.Combine(Root(), "contracts", "openapi.json")));
        return
        [
            .. contract.RootElement.GetProperty("paths").EnumerateObject().SelectMany(path => path.Value.EnumerateObject().Select(o => new Operation(
                o.Value.GetProperty("operationId").GetString()!,
                o.Name.ToUpperInvariant(),
                new($"^{Hole().Replace(path.Name, "[^/]+")}$", RegexOptions.None, TimeSpan.FromSeconds(1)),
                path.Name.Count(c => c == '{'),
                o.Value.TryGetProperty("parameters", out var all)
                    ? [.. all.EnumerateArray().Where(p => p.GetProperty("in").GetString() == "query").Select(p => p.GetProperty("name").GetString()!)]
                    : []))),
        ];
    }

    private static string Root()
    {
        var folder = new DirectoryInfo(AppContext.BaseDirectory);
        while (folder is not null && !File.Exists(Path.Combine(folder.FullName, "Traceability.sln")))
        {
            folder = folder.Parent;
        }

        return folder?.FullName ?? throw new InvalidOperationException("Traceability.sln is in no folder above the tests.");
    }

    [GeneratedRegex(@"\{[^}]+\}", RegexOptions.None, 1_000)]
    private static partial Regex Hole();

    private sealed record Operation(string Id, string Verb, Regex Path, int Holes, IReadOnlyList<string> Parameters);

    private sealed record Call(string Method, string Verb, string Path, IReadOnlyList<string> Parameters);

    private sealed class Notes : HttpMessageHandler
    {
        public List<Call> Seen { get; } = [];

        protected override Task<HttpResponseMessage> SendAsync(HttpRequestMessage request, CancellationToken cancellationToken)
        {
            var address = request.RequestUri!;
            Seen.Add(new(
                string.Empty,
                request.Method.Method,
                address.AbsolutePath,
                [.. address.Query.TrimStart('?').Split('&', StringSplitOptions.RemoveEmptyEntries).Select(p => p.Split('=')[0])]));
            return Task.FromResult(new HttpResponseMessage(HttpStatusCode.BadRequest) { Content = new StringContent("{}", Encoding.UTF8, "application/problem+json") });
        }
    }
}
