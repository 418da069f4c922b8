using System.Diagnostics;
using System.Text.Json;
using Traceability.Acceptance.History;
using Traceability.Acceptance.Releases;
using Traceability.Acceptance.Robustness;
using Traceability.Contracts.Containments;
using Traceability.Testing;
using Xunit.Abstractions;

namespace Traceability.Acceptance.Containments;

/// <summary>A case with very many members: 2,000, or 50,000 in the long form.</summary>
public sealed class LargeCaseTests(ITestOutputHelper output)
{
    private static readonly int Count = TestLength.IsLong ? 50_000 : 2_000;

    [Fact]
    public async Task A_case_with_very_many_members_is_opened_held_followed_up_and_closed()
    {
        await using var host = await ServiceHost.StartAsync("--Containments:WatchPause=00:10:00");
        using var patient = new HttpClient { BaseAddress = host.Address, Timeout = TimeSpan.FromMinutes(30) };
        patient.DefaultRequestHeaders.Authorization = new("Bearer", host.AdministratorKey);
        var lamps = new Lamps(host, 78);
        await lamps.DefineAsync();
        await Timed("import", () => HistoryClient.ImportAsync(patient, [.. Enumerable.Range(1, Count).SelectMany(i => lamps.Works.SimpleLamp(100 + i, i / 1_000.0))]));

        var opening = $$$"""{"factId":"{{{lamps.Works.Id()}}}","containment":"BIG","title":"t","reason":"r","person":"P-9","suspect":{"kind":"lot","item":"ADH","lot":"L1"}}""";
        await Timed("open", async () => Assert.Equal(201, (await Lamps.SendAsAsync(patient, "/api/containments", opening)).Status));
        Assert.Equal(Count, (await lamps.AskAsync<ContainmentView>("/api/containments/BIG")).Figures.Members);

        var set = default(JsonElement);
        await Timed("hold", async () => set = (await Lamps.SendAsAsync(patient, "/api/containments/BIG/holds", """{"person":"P-9"}""")).Body);
        Assert.Equal(Count, set.GetProperty("results")[0].GetProperty("count").GetInt32());
        await Timed("refresh", async () => Assert.Equal(200, (await Lamps.SendAsAsync(patient, "/api/containments/BIG/refresh", string.Empty)).Status));
        await Timed("view", async () => Assert.Equal(Count, (await lamps.AskAsync<ContainmentView>("/api/containments/BIG")).Figures.Held));
        List<string> units = [];
        string? after = null;
        await Timed("all members", async () =>
        {
            do
            {
                var page = await lamps.AskAsync<ContainmentMemberPage>($"/api/containments/BIG/members?limit=1000{(after is null ? string.Empty : $"&after={Uri.EscapeDataString(after)}")}");
                units.AddRange(page.Members.Select(m => m.Unit.Serial));
                after = page.After;
            }
            while (after is not null);
        });
        Assert.Equal(Count, units.Distinct(StringComparer.Ordinal).Count());

        await Timed("follow up", async () =>
        {
            foreach (var part in units.Chunk(500))
            {
                var members = $"\"containment\":\"BIG\",\"outcome\":\"scrapped\",\"units\":[{string.Join(',', part.Select(u => $"{{\"item\":\"LAMP\",\"serial\":\"{u}\"}}"))}]";
                Assert.Equal(201, (await Terminal.PostAsync(patient, lamps.Works.Fact("follow-up-recorded", 100, TimeSpan.Zero, null, "P-9", members))).Status);
            }
        });
        await Timed("close", async () => Assert.Equal(201, (await Terminal.PostAsync(
            patient, lamps.Works.Fact("containment-closed", 101, TimeSpan.Zero, null, "P-9", "\"containment\":\"BIG\",\"conclusion\":\"c\""))).Status));
        foreach (var format in new[] { "csv", "html", "pdf" })
        {
            var report = Array.Empty<byte>();
            await Timed(format, async () => report = await patient.GetByteArrayAsync(new Uri($"/api/containments/BIG/report?format={format}", UriKind.Relative)));
            output.WriteLine(FormattableString.Invariant($"{format}: {report.Length} bytes"));
            Assert.NotEmpty(report);
        }
    }

    private async Task Timed(string what, Func<Task> work)
    {
        // The service runs in this process; so the memory is that of both.
        var (started, allocated, used) = (Stopwatch.GetTimestamp(), GC.GetTotalAllocatedBytes(), Environment.CpuUsage.TotalTime);
        await work();
        using var process = Process.GetCurrentProcess();
        output.WriteLine(FormattableString.Invariant(
            $"{what}: {Stopwatch.GetElapsedTime(started).TotalMilliseconds:0} ms, {(Environment.CpuUsage.TotalTime - used).TotalMilliseconds:0} ms of a core, {(GC.GetTotalAllocatedBytes() - allocated) >> 20} MiB allocated, {process.WorkingSet64 >> 20} MiB in memory, {process.PeakWorkingSet64 >> 20} at most"));
    }
}
