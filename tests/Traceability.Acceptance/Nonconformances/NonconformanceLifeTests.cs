using System.Net.Http.Json;
using System.Text;
using Traceability.Acceptance.Robustness;
using Traceability.Contracts;
using Traceability.Contracts.Attachments;
using Traceability.Contracts.Facts;
using Traceability.Contracts.Findings;
using Traceability.Contracts.Nonconformances;
using Traceability.Testing;

namespace Traceability.Acceptance.Nonconformances;

/// <summary>From what is wrong with a unit to what became of it: over the running service, as a quality manager does it.</summary>
public sealed class NonconformanceLifeTests(NonconformanceLifeTests.Fixture fixture) : IClassFixture<NonconformanceLifeTests.Fixture>
{
    private const string Wired = ",\"step\":\"WIRE\",\"checks\":[{\"characteristic\":\"OK\",\"passed\":true}],\"measurements\":[{\"characteristic\":\"DEPTH\",\"value\":";

    private ServiceHost Host => fixture.Host;

    private LampWorks Works => fixture.Works;

    [Fact]
    public async Task A_value_out_of_limits_is_found_decided_reworked_and_closed()
    {
        var unit = await OpenAsync(1);
        var failed = await TellAsync(Host.Station, "step-completed", 2, unit + Wired + "12,\"unit\":\"mm\"}]");
        var id = $"{failed.Id}.value-out-of-limits.DEPTH";
        var open = Assert.Single(await ListAsync("item=LAMP&serial=1&openOnly=true"));
        Assert.Equal((id, NonconformanceState.Open, "WIRE", 1, failed.Id), (open.Id, open.State, open.Step, open.Attempt, open.Record));

        // Neither a station's key, nor nobody, nor a person without the qualification.
        var rework = unit + $",\"nonconformance\":\"{id}\",\"disposition\":\"rework\",\"reopens\":[\"WIRE\"],\"reason\":\"strip and wire again\"";
        Assert.Equal((403, "role-not-allowed"), await RefusedAsync(Host.Station, "nonconformance-disposed", 10, "P-9", rework));
        Assert.Equal((400, "person-missing"), await RefusedAsync(Host.Quality, "nonconformance-disposed", 10, null, rework));
        Assert.Equal((403, "person-not-qualified"), await RefusedAsync(Host.Quality, "nonconformance-disposed", 10, "P-1", rework));
        Assert.Equal((403, "person-not-qualified"), await RefusedAsync(Host.Quality, "nonconformance-disposed", -800, "P-9", rework));
        Assert.Equal((404, "step-not-in-routing"), await RefusedAsync(Host.Quality, "nonconformance-disposed", 10, "P-9", rework.Replace("[\"WIRE\"]", "[\"SOLDER\"]", StringComparison.Ordinal)));
        Assert.Equal(open, Assert.Single(await ListAsync("item=LAMP&serial=1")) with { Awaited = open.Awaited });

        await TellAsync(Host.Quality, "nonconformance-taken-up", 9, unit + $",\"nonconformance\":\"{id}\"", "P-9");
        Assert.Equal(NonconformanceState.UnderDecision, Assert.Single(await ListAsync("item=LAMP&serial=1&state=under-decision,moot")).State);
        var decision = await TellAsync(Host.Quality, "nonconformance-disposed", 10, rework, "P-9");
        var disposed = Assert.Single(await ListAsync("item=LAMP&serial=1&openOnly=true"));
        Assert.Equal((NonconformanceState.Disposed, Disposition.Rework, decision.Id, "P-9", "WIRE"), (disposed.State, disposed.Disposition!.Value, disposed.Decision!.Value, disposed.DecidedBy, Assert.Single(disposed.Awaited)));

        var redone = await TellAsync(Host.Station, "step-completed", 20, unit + Wired + "5,\"unit\":\"mm\"}],\"isRework\":true");
        Assert.Empty(await ListAsync("item=LAMP&serial=1&openOnly=true"));
        var view = await GetAsync(1, id);
        Assert.Equal((NonconformanceState.Closed, redone.Id), (view.Nonconformance.State, view.Nonconformance.EndedBy!.Value));
        Assert.Equal(["step-completed", "nonconformance-taken-up", "nonconformance-disposed", "step-completed"], view.History.Select(h => h.Type));

        // The rework turns out to have been entered on the wrong unit, and then not to have been.
        var gone = await VoidAsync(redone.Id, 30);
        Assert.Equal(NonconformanceState.Disposed, (await GetAsync(1, id)).Nonconformance.State);
        await VoidAsync(gone.Id, 31);
        Assert.Equal(NonconformanceState.Closed, (await GetAsync(1, id)).Nonconformance.State);
    }

    [Fact]
    public async Task What_a_person_saw_is_shown_by_a_photo_and_used_as_it_is_under_a_concession()
    {
        var unit = await OpenAsync(2);
        using var upload = await Files.UploadAsync(Host.Station, Files.Png(7), "image/png");
        var photo = (await upload.Content.ReadFromJsonAsync<StoredAttachment>(WireJson.Options))!.Hash;
        var report = await TellAsync(
            Host.Station, "nonconformance-reported", 5, unit + $",\"step\":\"WIRE\",\"defect\":\"CHIP\",\"description\":\"a chip at the rim\",\"attachments\":[\"{photo}\"]");
        Assert.Equal(report.Id.ToString(), Assert.Single(await ListAsync("item=LAMP&serial=2&defect=CHIP&openOnly=true")).Id);

        var concession = unit + $",\"nonconformance\":\"{report.Id}\",\"disposition\":\"use-as-is\",\"reason\":\"out of sight\",\"concession\":{{\"number\":\"CO-1\",\"until\":\"{Works.Time(60)}\",\"countMax\":2}},\"attachments\":[\"{photo}\"]";
        Assert.Equal(
            (409, "concession-not-covering"), await RefusedAsync(Host.Quality, "nonconformance-disposed", 10, "P-9", concession.Replace(Works.Time(60), Works.Time(5), StringComparison.Ordinal)));
        await TellAsync(Host.Quality, "nonconformance-disposed", 10, concession, "P-9");
        await TellAsync(Host.Station, "nonconformance-reported", 15, unit + ",\"step\":\"WIRE\",\"defect\":\"CHIP\",\"description\":\"another\"");
        await TellAsync(Host.Station, "nonconformance-reported", 16, unit + ",\"step\":\"WIRE\",\"defect\":\"CHIP\",\"description\":\"a third\"");
        Assert.Equal(["another", "a chip at the rim"], (await ListAsync("concession=CO-1")).Select(n => n.Message));
        Assert.Equal("a third", Assert.Single(await ListAsync("item=LAMP&serial=2&openOnly=true")).Message);

        var view = await GetAsync(2, report.Id.ToString());
        Assert.Equal((NonconformanceState.Closed, "CO-1", Disposition.UseAsIs), (view.Nonconformance.State, view.Nonconformance.Concession, view.Nonconformance.Disposition!.Value));
        Assert.Contains(photo, view.History[0].Content.GetRawText(), StringComparison.Ordinal);
        Assert.Equal((409, "nonconformance-closed"), await RefusedAsync(Host.Quality, "nonconformance-taken-up", 20, "P-9", unit + $",\"nonconformance\":\"{report.Id}\""));
    }

    [Fact]
    public async Task A_finding_under_a_concession_stays_in_the_list_and_is_marked()
    {
        var unit = await OpenAsync(3);
        var failed = await TellAsync(Host.Station, "step-completed", 2, unit + Wired + "12,\"unit\":\"mm\"}]");
        var id = $"{failed.Id}.value-out-of-limits.DEPTH";
        await TellAsync(Host.Quality, "nonconformance-disposed", 10, unit + $",\"nonconformance\":\"{id}\",\"disposition\":\"use-as-is\",\"reason\":\"fits\",\"concession\":{{\"number\":\"CO-3\",\"countMax\":1}}", "P-9");
        var findings = await Host.Quality.GetFromJsonAsync<FindingPage>(new Uri("/api/findings?item=LAMP&serial=3", UriKind.Relative), WireJson.Options);
        Assert.Equal("CO-3", Assert.Single(findings!.Findings).Concession);

        // Misread after all: nothing is left of the finding, and the decision still shows what it was about.
        await TellAsync(
            Host.Quality, "record-corrected", 20, $"\"record\":\"{failed.Id}\",\"reason\":\"misread\",\"authorisedBy\":\"P-9\",\"replacement\":{{{Works.Content("step-completed", 2, TimeSpan.Zero, "ST-1", "P-1", unit + Wired + "5,\"unit\":\"mm\"}]")}}}");
        Assert.Equal(NonconformanceState.Moot, Assert.Single(await ListAsync("item=LAMP&serial=3")).State);
        Assert.Equal((409, "nonconformance-moot"), await RefusedAsync(Host.Quality, "nonconformance-taken-up", 30, "P-9", unit + $",\"nonconformance\":\"{id}\""));
        Assert.Equal(["step-completed", "nonconformance-disposed", "record-corrected"], (await GetAsync(3, id)).History.Select(h => h.Type));
    }

    [Fact]
    public async Task A_report_and_its_decision_may_come_in_one_batch_and_by_the_import()
    {
        var unit = await OpenAsync(4);
        using var upload = await Files.UploadAsync(Host.Station, Files.Png(9), "image/png");
        var photo = (await upload.Content.ReadFromJsonAsync<StoredAttachment>(WireJson.Options))!.Hash;
        Sent[] Pair(double at)
        {
            var report = Works.Fact("nonconformance-reported", at, unit + $",\"defect\":\"CHIP\",\"description\":\"seen\",\"attachments\":[\"{photo}\"]");
            return [report, Works.Fact("nonconformance-disposed", at + 1, TimeSpan.Zero, "ST-1", "P-9", unit + $",\"nonconformance\":\"{report.Id}\",\"disposition\":\"scrap\",\"reason\":\"broken\"")];
        }

        Assert.All(await Terminal.PostBatchAsync(Host.Quality, Pair(5)), r => Assert.Equal(201, r.Status));
        using (var file = new StringContent(string.Join('\n', Pair(7).Select(f => f.Json)), Encoding.UTF8, "application/x-ndjson"))
        using (var answer = await Host.Admin.PostAsync(new Uri("/api/history", UriKind.Relative), file))
        {
            Assert.Contains("\"recorded\":2", await answer.Content.ReadAsStringAsync(), StringComparison.Ordinal);
        }

        Assert.Equal([NonconformanceState.Disposed, NonconformanceState.Disposed], (await ListAsync("item=LAMP&serial=4&openOnly=true")).Select(n => n.State));
        await TellAsync(Host.Quality, "unit-scrapped", 10, unit + ",\"reason\":\"as decided\"", "P-9");
        Assert.Empty(await ListAsync("item=LAMP&serial=4&openOnly=true"));
    }

    [Fact]
    public async Task Pages_hold_each_one_once_newest_first()
    {
        var unit = await OpenAsync(5);
        for (var i = 0; i < 7; i++)
        {
            // Several at one moment.
            await TellAsync(Host.Station, "nonconformance-reported", 5 + (i / 3), unit + $",\"defect\":\"CHIP\",\"description\":\"{i}\"");
        }

        List<Nonconformance> read = [];
        string? after = null;
        do
        {
            var page = await Host.Quality.GetFromJsonAsync<NonconformancePage>(
                new Uri($"/api/nonconformances?item=LAMP&serial=5&limit=2{(after is null ? string.Empty : $"&after={after}")}", UriKind.Relative), WireJson.Options);
            read.AddRange(page!.Nonconformances);
            after = page.After;
        }
        while (after is not null);

        Assert.Equal(["0", "1", "2", "3", "4", "5", "6"], read.Select(n => n.Message).Order(StringComparer.Ordinal));
        Assert.Equal(read.OrderByDescending(n => n.At).Select(n => n.At), read.Select(n => n.At));
        Assert.Equal(3, (await ListAsync($"item=LAMP&serial=5&from={Uri.EscapeDataString(Works.Time(6))}&to={Uri.EscapeDataString(Works.Time(7))}")).Count);
    }

    private async Task<string> OpenAsync(int serial)
    {
        var unit = LampWorks.Unit("LAMP", serial);
        await TellAsync(Host.Station, "unit-opened", 0, unit + ",\"variant\":\"P\"");
        return unit;
    }

    private async Task<Sent> TellAsync(HttpClient client, string type, double at, string members, string person = "P-1")
    {
        var fact = Works.Fact(type, at, TimeSpan.Zero, "ST-1", person, members);
        var reply = await Terminal.PostAsync(client, fact);
        Assert.True(reply.Status == 201, $"{type}: {reply.Status} {reply.Body}");
        return fact;
    }

    private Task<Sent> VoidAsync(Guid record, double at) =>
        TellAsync(Host.Quality, "record-voided", at, $"\"record\":\"{record}\",\"reason\":\"wrong unit\",\"authorisedBy\":\"P-9\"", "P-9");

    private async Task<(int Status, string Code)> RefusedAsync(HttpClient client, string type, double at, string? person, string members)
    {
        var reply = await Terminal.PostAsync(client, Works.Fact(type, at, TimeSpan.Zero, "ST-1", person, members));
        return (reply.Status, reply.Code);
    }

    private async Task<IReadOnlyList<Nonconformance>> ListAsync(string query) =>
        (await Host.Engineer.GetFromJsonAsync<NonconformancePage>(new Uri($"/api/nonconformances?{query}", UriKind.Relative), WireJson.Options))!.Nonconformances;

    private async Task<NonconformanceView> GetAsync(int serial, string id) =>
        (await Host.Engineer.GetFromJsonAsync<NonconformanceView>(new Uri($"/api/nonconformances/LAMP/{serial}/{id}", UriKind.Relative), WireJson.Options))!;

    /// <summary>A service that knows the lamp works; P-9 may dispose.</summary>
    public sealed class Fixture : IAsyncLifetime
    {
        /// <summary>Gets the service.</summary>
        public ServiceHost Host { get; private set; } = null!;

        internal LampWorks Works { get; } = new(11, LampWorks.DaysAgo(6));

        /// <inheritdoc />
        public async Task InitializeAsync()
        {
            Host = await ServiceHost.StartAsync();
            await Terminal.PostAllAsync(Host.Admin, [.. Works.Definitions(), Works.Define("qualification-granted", -700, "\"subject\":\"P-9\",\"qualification\":\"DISPOSITION\"")], batch: 50);
        }

        /// <inheritdoc />
        public async Task DisposeAsync()
        {
            // Whatever the tests told, the stored rows are those of a fresh judgement.
            var differences = await FreshJudgement.DifferencesAsync(Host.Database);
            await Host.DisposeAsync();
            Assert.Equal(string.Empty, differences);
        }
    }
}
