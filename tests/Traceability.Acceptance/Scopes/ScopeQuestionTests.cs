using System.Net;
using System.Text;
using System.Text.Json;
using Traceability.Acceptance.Robustness;
using Traceability.Contracts;
using Traceability.Contracts.Scope;
using Traceability.Testing;

namespace Traceability.Acceptance.Scopes;

/// <summary>Any factor as the suspect: a tool, a person, a value, an interval, and combinations of them, over the real service.</summary>
public sealed class ScopeQuestionTests : IAsyncLifetime
{
    private const string Lot = """{"kind":"lot","item":"ADH","lot":"L1"}""";
    private const string Tool = """{"kind":"tool","tool":"SD-1"}""";

    private readonly LampWorks works = new(47, LampWorks.DaysAgo(6));
    private ServiceHost host = null!;

    /// <inheritdoc />
    public async Task InitializeAsync()
    {
        host = await ServiceHost.StartAsync();
        await Terminal.PostAllAsync(host.Admin, works.Definitions(), batch: 100);
    }

    /// <inheritdoc />
    public async Task DisposeAsync() => await host.DisposeAsync();

    [Fact]
    public async Task A_tool_that_was_found_out_reaches_what_it_was_used_on_and_where_no_tool_is_recorded()
    {
        await ScrewAsync(1, 10, """ "tools":[{"tool":"SD-1","setting":"5"}] """);
        await PostAsync(Check(100, "1.21"));
        await ScrewAsync(2, 110, """ "tools":[{"tool":"SD-1","setting":"5"}] """);
        await ScrewAsync(3, 120, """ "tools":[] """);
        await PostAsync(Check(200, "1.35"));

        var answer = await AskAsync(Tool);

        Assert.Equal(["2 proven", "3 possible"], Members(answer));
        Assert.Equal("The record of step SCREW on LAMP/2 names tool SD-1 at setting 5.", answer.Members[0].Reason);
        Assert.Equal("No tool for DRIVER is recorded at step SCREW of LAMP/3; tool SD-1 since it was last shown good could have been used there then.", answer.Members[1].Reason);
        Assert.Equal(("tool-used", "tool-missing"), (answer.Members[0].Ways[0].Path[0].Kind, answer.Members[1].Ways[0].Path[0].Kind));
        Assert.Equal(["1 proven", "2 proven", "3 possible"], Members(await AskAsync("""{"kind":"tool","tool":"SD-1","window":"all"}""")));
        Assert.Equal(["3 possible"], Members(await AskAsync("""{"kind":"tool","tool":"SD-1","setting":"3","window":"all"}""")));
        Assert.Null(answer.Totals.Cleared);
        Assert.True(answer.Completeness.IsComplete);
    }

    [Fact]
    public async Task A_person_a_station_and_a_time_must_hold_for_one_record_and_a_void_one_leaves_it_possible()
    {
        await ScrewAsync(1, 10, """ "tools":[] """);
        await ScrewAsync(2, 20, """ "tools":[] """, LampWorks.Desk, "P-9");
        var voided = await ScrewAsync(3, 30, """ "tools":[] """, LampWorks.Desk, "P-1");
        await PostAsync(works.Fact("record-voided", 300, TimeSpan.Zero, LampWorks.Desk, "P-9", $$""" "record":"{{voided.Id}}","reason":"Wrong lamp","authorisedBy":"P-9" """));

        Assert.Equal(["2 proven", "3 possible"], Members(await AskAsync("""{"kind":"work","person":"P-9","step":"SCREW"}""")));
        Assert.Equal(["1 proven", "3 possible"], Members(await AskAsync("""{"kind":"work","station":"ST-1","step":"SCREW"}""")));
        Assert.Equal(["3 possible"], Members(await AskAsync("""{"kind":"work","station":"ST-1","person":"P-9","step":"SCREW"}""")));
        Assert.Equal(["1 proven", "2 proven", "3 possible"], Members(await AskAsync("""{"kind":"work","item":"LAMP","revision":"A"}""")));
        var window = $$"""{"kind":"work","item":"LAMP","from":"{{works.Time(15)}}","to":"{{works.Time(25)}}"}""";
        Assert.Equal(["2 proven"], Members(await AskAsync(window)));

        // Begun at the desk, and not completed there.
        await PostAsync(works.Fact("step-started", 21, TimeSpan.Zero, LampWorks.Desk, "P-1", LampWorks.Unit("LAMP", 1) + ""","step":"TEST" """));
        Assert.Equal(["1 possible"], Members(await AskAsync("""{"kind":"work","station":"DESK","step":"TEST"}""")));
    }

    [Fact]
    public async Task A_value_and_an_interval_reach_what_they_were_and_what_nobody_recorded()
    {
        await WireAsync(1, 10, """ "measurements":[{"characteristic":"DEPTH","value":5.00,"unit":"mm"}] """);
        await WireAsync(2, 20, """ "measurements":[{"characteristic":"DEPTH","value":0.30,"unit":"cm"}] """);
        await WireAsync(3, 30, """ "measurements":[{"characteristic":"DEPTH","value":3.99,"unit":"mm","standardUncertainty":0.1}] """);
        await WireAsync(4, 40, """ "measurements":[] """);

        Assert.Equal(["2 proven", "3 possible", "4 possible"], Members(await AskAsync("""{"kind":"measured","characteristic":"DEPTH","below":{"value":4,"unit":"mm"}}""")));
        Assert.Equal(["1 proven", "3 possible", "4 possible"], Members(await AskAsync("""{"kind":"measured","characteristic":"DEPTH","step":"WIRE","above":{"value":4000,"unit":"um"}}""")));

        // The cure of lamps 1 to 3 lasted 6, 7 and 8 minutes.
        for (var lamp = 1; lamp <= 3; lamp++)
        {
            await PostAsync(
                works.Fact("step-completed", 100, LampWorks.Unit("LAMP", lamp) + ""","step":"GLUE","materials":[{"item":"ADH","lots":["L1"],"container":"T1"}]"""),
                works.Fact("step-completed", 110, LampWorks.Unit("LAMP", lamp) + $$""","step":"MARRY","startedAt":"{{works.Time(105 + lamp)}}" """));
        }

        var interval = await AskAsync("""{"kind":"interval","rule":"CURE","shorterThan":"PT7M30S"}""");
        Assert.Equal(["1 proven", "2 proven"], Members(interval));
        Assert.Equal("interval-ended", interval.Members[0].Ways[0].Path[0].Kind);
        Assert.Equal(["3 proven"], Members(await AskAsync("""{"kind":"interval","rule":"CURE","longerThan":"PT7M30S"}""")));
    }

    [Fact]
    public async Task Suspects_are_combined_and_a_component_takes_its_history_along()
    {
        await PostAsync(works.Fact("unit-opened", 1, LampWorks.Unit("HEAD", 1)));
        await PostAsync(works.Fact("step-completed", 5, LampWorks.Unit("HEAD", 1) + ""","step":"BOND","materials":[{"item":"ADH","lots":["L1"]}],"measurements":[{"characteristic":"RIM","value":2,"unit":"mm"}]"""));
        await ScrewAsync(1, 20, """ "tools":[{"tool":"SD-1","setting":"5"}] """);
        await PostAsync(works.Fact("component-installed", 30, LampWorks.Unit("LAMP", 1) + ""","position":"HEAD","component":{"item":"HEAD","serial":"1"}"""));
        await ScrewAsync(2, 40, """ "tools":[{"tool":"SD-1","setting":"5"}] """);
        await PostAsync(Check(200, "1.35"));

        Assert.Equal(["1 proven", "1 proven"], Members(await AskAsync("""{"kind":"component","item":"HEAD","serial":"1"}""")));
        var both = await AskAsync($$"""{"kind":"and","of":[{{Lot}},{{Tool}}]}""");
        Assert.Equal(["1 proven"], Members(both));
        Assert.Equal(["lot ADH/L1", "tool SD-1 since it was last shown good"], both.Members[0].Ways.Select(w => w.Suspect));
        Assert.Contains(" And: ", both.Members[0].Reason, StringComparison.Ordinal);
        Assert.Equal(["1 proven", "1 proven", "2 proven"], Members(await AskAsync($$"""{"kind":"or","of":[{{Lot}},{{Tool}}]}""")));
        Assert.Equal(["2 proven"], Members(await AskAsync($$"""{"kind":"except","of":{{Tool}},"but":{{Lot}} }""")));

        // What is read of a lot by its address and by a question is the same.
        var byAddress = await GetAsync<ScopeAnswer>("/api/lots/ADH/L1/scope");
        var byQuestion = await AskAsync(Lot);
        Assert.Equal(byAddress.Members.Select(m => (m.Item, m.Serial, m.Verdict, m.Reason)), byQuestion.Members.Select(m => (m.Item, m.Serial, m.Verdict, m.Reason)));
        Assert.Equal((byAddress.Totals.Proven, byAddress.Totals.Cleared), (byQuestion.Totals.Proven, byQuestion.Totals.Cleared));
    }

    [Fact]
    public async Task Cleared_of_several_lots_is_whose_record_names_another_one_and_parts_of_lots_are_not_counted()
    {
        foreach (var (serial, lot) in new[] { (1, "L1"), (2, "L2"), (3, "L3"), (4, "L3") })
        {
            await PostAsync(works.Fact("unit-opened", serial, LampWorks.Unit("HEAD", serial)));
            await PostAsync(works.Fact("step-completed", serial + 5, LampWorks.Unit("HEAD", serial) + $$""","step":"BOND","materials":[{"item":"ADH","lots":["{{lot}}"]}],"measurements":[{"characteristic":"RIM","value":2,"unit":"mm"}]"""));
        }

        var other = Lot.Replace("L1", "L2", StringComparison.Ordinal);
        var either = await AskAsync($$"""{"kind":"or","of":[{{Lot}},{{other}}]}""", "?include=cleared&limit=1");
        Assert.Equal((2, 2, "1"), (either.Totals.Members, either.Totals.Cleared, either.Members[0].Serial));
        Assert.Equal(("HEAD", "3", "HEAD/3"), (Assert.Single(either.Cleared!).Item, either.Cleared![0].Serial, either.ClearedAfter));
        Assert.Equal(3, (await AskAsync(Lot)).Totals.Cleared);
        var part = await AskAsync($$"""{"kind":"or","of":[{{Lot}},{"kind":"lot","item":"ADH","lot":"L2","step":"BOND"}]}""");
        Assert.Null(part.Totals.Cleared);
        Assert.Contains("Units that records clear are counted for whole lots and containers only.", part.Remarks);
    }

    [Fact]
    public async Task A_question_is_saved_shared_replaced_only_by_who_has_read_it_and_removed()
    {
        await ScrewAsync(1, 10, """ "tools":[{"tool":"SD-1","setting":"5"}] """);
        var body = $$"""{"title":"Driver, all uses","suspect":{"kind":"tool","tool":"SD-1","window":"all"} }""";

        Assert.Equal(HttpStatusCode.Created, (await PutAsync("DRIVER", body, null)).Status);
        Assert.Equal(HttpStatusCode.OK, (await PutAsync("DRIVER", body, null)).Status);
        Assert.Equal(["1 proven"], Members(await GetAsync<ScopeQuestionAnswer>("/api/scopes/DRIVER/members")));
        var other = body.Replace("\"all\"", "\"since-last-good\"", StringComparison.Ordinal);
        Assert.Equal((HttpStatusCode.Conflict, "scope-question-exists"), await PutAsync("DRIVER", other, null));
        Assert.Equal(HttpStatusCode.OK, (await PutAsync("DRIVER", other, "\"1\"")).Status);
        Assert.Equal((HttpStatusCode.Conflict, "scope-question-exists"), await PutAsync("DRIVER", body, "\"1\""));
        Assert.Equal((HttpStatusCode.BadRequest, "question-malformed"), await PutAsync("DRIVER", body, "1"));
        Assert.Equal((HttpStatusCode.NotFound, "scope-question-unknown"), await PutAsync("OTHER", body, "\"1\""));
        var saved = await GetAsync<SavedScope>("/api/scopes/DRIVER");
        Assert.Equal((2, "since-last-good", "tool SD-1 since it was last shown good"), (saved.Version, ((ToolSuspect)saved.Suspect).Window, saved.Words));

        await PutAsync("ADHESIVE", $$"""{"title":"Adhesive","suspect":{{Lot}} }""", null);
        var first = await GetAsync<SavedScopePage>("/api/scopes?limit=1");
        Assert.Equal(("ADHESIVE", "ADHESIVE"), (Assert.Single(first.Scopes).Name, first.After));
        Assert.Equal(["DRIVER"], (await GetAsync<SavedScopePage>("/api/scopes?after=ADHESIVE")).Scopes.Select(s => s.Name));
        using var removed = await host.Quality.DeleteAsync(new Uri("/api/scopes/DRIVER", UriKind.Relative));
        Assert.Equal(HttpStatusCode.NoContent, removed.StatusCode);
        using var gone = await host.Quality.GetAsync(new Uri("/api/scopes/DRIVER/members", UriKind.Relative));
        Assert.Equal(HttpStatusCode.NotFound, gone.StatusCode);
    }

    private static string[] Members(ScopeQuestionAnswer answer) => [.. answer.Members.Select(m => $"{m.Serial} {m.Verdict}")];

    private Sent Check(double at, string reading) => works.Fact(
        "tool-checked", at, $$""" "tool":"SD-1","setting":"5","readings":[{"value":{{reading}},"unit":"N.m"}],"lower":{"value":1.1,"unit":"N.m"},"upper":{"value":1.3,"unit":"N.m"} """);

    private async Task<Sent> ScrewAsync(int lamp, double at, string tools, string station = LampWorks.Bench, string person = "P-1")
    {
        var screw = works.Fact("step-completed", at, TimeSpan.Zero, station, person, LampWorks.Unit("LAMP", lamp) + ""","step":"SCREW",""" + tools);
        await PostAsync(works.Fact("unit-opened", at - 2, LampWorks.Unit("LAMP", lamp) + ""","variant":"P" """), screw);
        return screw;
    }

    private Task WireAsync(int lamp, double at, string measurements) => PostAsync(
        works.Fact("unit-opened", at - 2, LampWorks.Unit("LAMP", lamp) + ""","variant":"P" """),
        works.Fact("step-completed", at, LampWorks.Unit("LAMP", lamp) + ""","step":"WIRE","checks":[{"characteristic":"OK","passed":true}],""" + measurements));

    private async Task PostAsync(params Sent[] facts)
    {
        foreach (var fact in facts)
        {
            var reply = await Terminal.PostAsync(host.Admin, fact);
            Assert.True(reply.Status == 201, $"{fact.Json}: {reply.Body}");
        }
    }

    private async Task<ScopeQuestionAnswer> AskAsync(string suspect, string query = "")
    {
        await Tables.SettleAsync(host.Database);
        using var content = new StringContent($$"""{"suspect":{{suspect}} }""", Encoding.UTF8, "application/json");
        using var answer = await host.Admin.PostAsync(new Uri("/api/scopes" + query, UriKind.Relative), content);
        var text = await answer.Content.ReadAsStringAsync();
        Assert.True(answer.IsSuccessStatusCode, text);
        return JsonSerializer.Deserialize<ScopeQuestionAnswer>(text, WireJson.Options)!;
    }

    private async Task<(HttpStatusCode Status, string? Code)> PutAsync(string name, string body, string? version)
    {
        using var request = new HttpRequestMessage(HttpMethod.Put, "/api/scopes/" + name) { Content = new StringContent(body, Encoding.UTF8, "application/json") };
        if (version is not null)
        {
            request.Headers.TryAddWithoutValidation("If-Match", version);
        }

        using var answer = await host.Quality.SendAsync(request);
        using var read = JsonDocument.Parse(await answer.Content.ReadAsStringAsync());
        return (answer.StatusCode, read.RootElement.TryGetProperty("code", out var code) ? code.GetString() : null);
    }

    private async Task<T> GetAsync<T>(string path)
    {
        using var answer = await host.Admin.GetAsync(new Uri(path, UriKind.Relative));
        var text = await answer.Content.ReadAsStringAsync();
        Assert.True(answer.IsSuccessStatusCode, text);
        return JsonSerializer.Deserialize<T>(text, WireJson.Options)!;
    }
}
