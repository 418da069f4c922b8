using System.Collections.Concurrent;
using System.Net;
using System.Text.Json;
using Traceability.Acceptance.Robustness;
using Traceability.Service;
using Traceability.Testing;
using Xunit.Abstractions;

namespace Traceability.Acceptance.Rebuilds;

/// <summary>While rows are rebuilt and swapped, every instance goes on: nothing written is missed, no answer is short.</summary>
public sealed class ServingTests(ITestOutputHelper output)
{
    private static readonly DateTimeOffset Start = LampWorks.DaysAgo(6);

    [Fact]
    public async Task Two_instances_record_and_answer_on_while_rows_are_swapped()
    {
        await using var host = await ServiceHost.StartAsync();
        await using var other = await SecondAsync(host);
        using var second = Terminal.Client(new(other.App.Urls.Single()), host.AdministratorKey);
        var works = new LampWorks(51, Start);
        await Terminal.PostAllAsync(host.Admin, [.. works.Definitions(), .. Enumerable.Range(1, 500).SelectMany(l => works.SimpleLamp(l, l / 10.0))], batch: 500);
        var acknowledged = new ConcurrentBag<Guid>();
        using var ending = new CancellationTokenSource();
        var glued = 0L;

        // Two posters on each instance; the units of one are written by the other, too.
        Task[] posters = [.. Enumerable.Range(0, 4).Select(p => Task.Run(async () =>
        {
            var own = new LampWorks((ulong)(60 + p), Start);
            for (var lamp = 100_000 * (p + 1); !ending.IsCancellationRequested; lamp++)
            {
                foreach (var fact in own.SimpleLamp(lamp, lamp % 1_000 / 10.0).Append(own.Fact("unit-held", 200, LampWorks.Unit("LAMP", (lamp % 500) + 1) + ""","reason":"Doubt" """)))
                {
                    var reply = await Terminal.PostAsync((p + acknowledged.Count) % 2 == 0 ? host.Admin : second, fact);
                    Assert.Equal(201, reply.Status);
                    acknowledged.Add(fact.Id);
                    Interlocked.Add(ref glued, fact.Json.Contains("\"GLUE\"", StringComparison.Ordinal) ? 1 : 0);
                }
            }
        }))];
        var asked = 0;
        var asking = Task.Run(async () =>
        {
            for (var before = 500L; !ending.IsCancellationRequested; asked++)
            {
                var units = await ScopeAsync(asked % 2 == 0 ? host.Admin : second);
                Assert.True(units >= before, $"The lot was in {before} units, and then in {units}.");
                before = units;
            }
        });

        var caughtUp = 0L;
        for (var i = 0; i < (TestLength.IsLong ? 100 : 6); i++)
        {
            var rebuild = await RebuildClient.RunAsync(i % 2 == 0 ? host.Admin : second);
            output.WriteLine(FormattableString.Invariant($"{(rebuild.EndedAt - rebuild.StartedAt)!.Value.TotalSeconds:0.0} s, {rebuild.Units} units, {rebuild.CaughtUp} caught up with, {acknowledged.Count} facts so far"));
            Assert.Equal(0, rebuild.Comparison!.DifferingUnits);
            Assert.Equal(0, rebuild.Comparison.DifferingYields);
            caughtUp += rebuild.CaughtUp;
        }

        await ending.CancelAsync();
        await Task.WhenAll([.. posters, asking]);
        output.WriteLine($"{acknowledged.Count} facts acknowledged, {caughtUp} units caught up with, {asked} questions");
        Assert.True(caughtUp > 20, $"Only {caughtUp} units were written while they were rebuilt.");
        Assert.True(asked > 20, $"Only {asked} questions were asked.");
        Assert.Equal(acknowledged.Count, await Tables.CountAsync(host.Database, "traceability.receipt") - works.Definitions().Count - 1_500);
        await RebuildClient.RequireFreshAsync(host.Database);
        RebuildClient.RequireEqual(await RebuildClient.RunAsync(host.Admin));
        Assert.Equal(500 + glued, await ScopeAsync(host.Admin));
        await RebuildClient.RequireNothingLeftAsync(host.Database);
    }

    [Fact]
    public async Task Facts_on_which_judgements_rest_may_change_while_rows_are_rebuilt()
    {
        var seeds = TestLength.IsLong ? 40 : 3;
        for (var seed = 1; seed <= seeds; seed++)
        {
            await using var host = await ServiceHost.StartAsync();
            var history = LampHistory.Build((ulong)(70 + seed), Start, 40);

            // The lots, tools, people and stations that change late, and components that move, all meet rebuilds.
            await Terminal.PostAllAsync(host.Admin, [.. history[..(history.Count / 3)].Where(f => !f.Type.StartsWith("record-", StringComparison.Ordinal))], batch: 200);
            var posting = Terminal.PostAllAsync(host.Admin, history, batch: 1, connections: 2);
            var rebuilds = 0;
            do
            {
                await RebuildClient.RunAsync(host.Admin);
                rebuilds++;
            }
            while (!posting.IsCompleted);

            await posting;
            output.WriteLine($"seed {seed}: {rebuilds} rebuilds");
            Assert.True(rebuilds > 1, "The facts came before the first rebuild had ended.");
            await RebuildClient.RequireFreshAsync(host.Database);
            RebuildClient.RequireEqual(await RebuildClient.RunAsync(host.Admin));
        }
    }

    /// <summary>A second instance on the host's database.</summary>
    internal static async Task<TraceabilityService> SecondAsync(ServiceHost host)
    {
        var other = await TraceabilityService.CreateAsync(
        [
            "--urls", "http://127.0.0.1:0", $"--ConnectionStrings:Traceability={host.ConnectionString}", "--Postgres:AllowUnsafeDurability=true",
            $"--Postgres:DataFolder={host.DataFolder}", "--Logging:LogLevel:Default=Warning",
        ]);
        await other.App.StartAsync();
        return other;
    }

    private static async Task<long> ScopeAsync(HttpClient client)
    {
        using var answer = await client.GetAsync("/api/lots/ADH/L1/scope?limit=1");
        var text = await answer.Content.ReadAsStringAsync();
        Assert.True(answer.StatusCode == HttpStatusCode.OK, text);
        using var body = JsonDocument.Parse(text);
        return body.RootElement.GetProperty("totals").GetProperty("proven").GetInt64();
    }
}
