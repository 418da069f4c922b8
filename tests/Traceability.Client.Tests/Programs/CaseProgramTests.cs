using System.Text.Json;
using Traceability.Acceptance.Robustness;
using Traceability.Client.Tests.Service;
using Traceability.Contracts.Scope;
using Traceability.Terminal;
using Traceability.Testing;

namespace Traceability.Client.Tests.Programs;

/// <summary>The terminal program in the hands of a quality manager: scopes, cases, dispersion.</summary>
public sealed class CaseProgramTests(CaseTests.Works works) : IClassFixture<CaseTests.Works>, IDisposable
{
    private readonly string folder = Directory.CreateTempSubdirectory("case-").FullName;

    public void Dispose() => Directory.Delete(folder, recursive: true);

    [Fact]
    public async Task A_scope_is_told_with_its_notes_before_its_numbers_and_its_members_with_their_evidence()
    {
        var answer = await RunAsync("scope", "--lot", "ADH=L1");

        Assert.Equal(ExitCodes.Done, answer.Code);
        Assert.StartsWith("Suspect: lot ADH/L1", answer.Output, StringComparison.Ordinal);
        InOrder(answer.Output, "6 units: 5 proven, 1 possible", "in-process", "shipped to Fell End Supplies", "LAMP", "4", "possible");
        var member = (await RunAsync("scope", "--lot", "ADH=L1", "--json")).Json.GetProperty("members")[0];
        Assert.Contains(member.GetProperty("reason").GetString()!, answer.Output, StringComparison.Ordinal);
        Assert.Contains(member.GetProperty("ways")[0].GetProperty("path")[0].GetProperty("evidence").GetProperty("record").GetString()!, answer.Output, StringComparison.Ordinal);

        var tool = await RunAsync("scope", "--tool", "SD-1=5", "--all-uses");
        InOrder(tool.Output, "Note: Units that records clear are counted for whole lots and containers only.", "2 units: 2 proven");
        InOrder((await RunAsync("scope", "--lot", "ADH=L1", "--show", "1")).Output, "HEAD", "5 MORE MEMBERS are not shown here");
    }

    [Theory]
    [InlineData("container T9 of lot ADH/L1", "--lot", "ADH=L1/T9")]
    [InlineData("HEAD/1", "--serial", "HEAD/1")]
    [InlineData("S-1", "--supplier-lot", "S-1")]
    [InlineData("P-1", "--person", "P-1", "--step", "GLUE")]
    [InlineData("ST-1", "--station", "ST-1", "--from", "2026-01-01T00:00:00Z", "--to", "2099-01-01T00:00:00+01:00")]
    [InlineData(" and ", "--lot", "ADH=L1", "--tool", "SD-1", "--all-uses", "--all")]
    [InlineData(" or ", "--lot", "ADH=L1", "--serial", "HEAD/1", "--any")]
    public async Task Every_option_is_asked_as_it_was_typed(string words, params string[] args)
    {
        var answer = await RunAsync(["scope", .. args]);
        Assert.True(answer.Code == ExitCodes.Done, answer.Errors);
        Assert.Contains(words, answer.Output.Split('\n')[0], StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_question_from_a_file_from_standard_input_or_saved_gets_the_same_answer()
    {
        const string Node = """{"kind":"except","of":{"kind":"lot","item":"ADH","lot":"L1"},"but":{"kind":"component","item":"HEAD","serial":"1"}}""";
        var file = Path.Combine(folder, "question.json");
        await File.WriteAllTextAsync(file, $$"""{"suspect":{{Node}}}""");
        await works.Client.SaveScopeAsync("BUT-1", new("But the first head", JsonSerializer.Deserialize<SuspectNode>(Node, Contracts.WireJson.Options)!));

        var answers = new[] { await RunAsync("scope", file, "--json"), await RunAsync(["scope", "--json"], Node), await RunAsync("scope", "--saved", "BUT-1", "--json") };
        Assert.All(answers, a => Assert.Equal(4, a.Json.GetProperty("members").GetArrayLength()));
        Assert.True(await works.Client.RemoveSavedScopeAsync("BUT-1"));
    }

    [Fact]
    public async Task The_members_are_kept_as_a_file_that_is_never_written_over()
    {
        var file = Path.Combine(folder, "l1.csv");
        var kept = await RunAsync("scope", "--lot", "ADH=L1", "--csv", file);
        Assert.Equal(ExitCodes.Done, kept.Code);
        Assert.Contains("6 members written to", kept.Output, StringComparison.Ordinal);
        var lines = (await File.ReadAllTextAsync(file)).Split("\r\n", StringSplitOptions.RemoveEmptyEntries);
        Assert.StartsWith("item,serial,verdict,now,reason,", lines[0], StringComparison.Ordinal);
        Assert.Equal(7, lines.Length);
        Assert.Contains(lines, l => l.StartsWith("LAMP,1,proven,", StringComparison.Ordinal) && l.Contains(",Fell End Supplies,", StringComparison.Ordinal));

        var again = await RunAsync("scope", "--lot", "ADH=L1", "--csv", file);
        Assert.Equal(ExitCodes.NotUnderstood, again.Code);
        Assert.Contains("already", again.Errors, StringComparison.Ordinal);
        Assert.Equal(ExitCodes.NotUnderstood, (await RunAsync("scope", "--lot", "ADH=L1", "--csv", Path.Combine(folder, "no", "such", "folder.csv"))).Code);
    }

    [Fact]
    public async Task What_is_suspected_has_to_be_clear()
    {
        string[][] wrong =
        [
            ["scope"], ["scope", "--lot", "ADH"], ["scope", "--serial", "HEAD"], ["scope", "--lot", "ADH=L1", "--tool", "SD-1"], ["scope", "--lot", "ADH=L1", "--any"],
            ["scope", "--lot", "ADH=L1", "--tool", "SD-1", "--any", "--all"], ["scope", "--lot", "ADH=L1", "--all-uses"], ["scope", "--serial", "HEAD/1", "--step", "GLUE"],
            ["scope", "--lot", "ADH=L1", "--from", "2026-03-02"], ["scope", "/no/such/file"], ["scope", "--saved", "X", "--lot", "ADH=L1"], ["scope", "question.json", "--lot", "ADH=L1"], ["scope", "--any"],
            ["containment", "C-7", "--report", "case.doc"],
        ];
        foreach (var args in wrong)
        {
            var answer = await RunAsync(args);
            Assert.True(answer.Code == ExitCodes.NotUnderstood, $"{string.Join(' ', args)}: {answer.Code} {answer.Output}");
            Assert.NotEqual(string.Empty, answer.Errors);
        }

        // A misspelt word would make it another question.
        Assert.Equal(ExitCodes.NotUnderstood, (await RunAsync(["scope"], """{"kind":"lot","item":"ADH","lot":"L1","stepp":"GLUE"}""")).Code);
        Assert.Equal(ExitCodes.NotUnderstood, (await RunAsync(["scope"], """{"kind":"lott","item":"ADH","lot":"L1"}""")).Code);
        Assert.Equal(ExitCodes.NotUnderstood, (await RunAsync(["scope"], "{broken")).Code);
        var unknown = await RunAsync("scope", "--lot", "ADH=NONE", "--json");
        Assert.Equal((ExitCodes.Refused, "lot-unknown"), (unknown.Code, unknown.Json.GetProperty("problem").GetProperty("code").GetString()));
    }

    [Fact]
    public async Task A_case_is_listed_shown_and_kept()
    {
        await works.Client.OpenContainmentAsync(new()
        {
            FactId = FactIds.Next(), Containment = "C-7", Title = "Gels late", Reason = "Two tubes", Suspect = new LotSuspect { Item = "ADH", Lot = "L1" }, Person = "P-9",
        });
        InOrder((await RunAsync("containments")).Output, "C-7", "open", "P-9", "lot ADH/L1", "Gels late");
        Assert.Equal("C-7", (await RunAsync("containments", "--state", "open", "--json")).Json.GetProperty("containments")[0].GetProperty("containment").GetString());
        Assert.DoesNotContain("C-7", (await RunAsync("containments", "--state", "closed")).Output, StringComparison.Ordinal);
        Assert.Equal(ExitCodes.Refused, (await RunAsync("containments", "--state", "ajar")).Code);

        var file = Path.Combine(folder, "c-7.pdf");
        var shown = await RunAsync("containment", "C-7", "--members", "open", "--consignees", "--report", file);
        Assert.Equal(ExitCodes.Done, shown.Code);
        InOrder(shown.Output, "C-7 open: Gels late", "Suspect: lot ADH/L1", "6 members: possible 1, proven 5", "Stopped by this case now: 0", "LAMP/4", "No lot is recorded", "Members: 6.", "PO-1", "Consignees that have members: 1.", file);
        Assert.Equal("%PDF-"u8.ToArray(), (await File.ReadAllBytesAsync(file))[..5]);
        var json = (await RunAsync("containment", "C-7", "--members", "all", "--json")).Json;
        Assert.Equal((6, "C-7"), (json.GetProperty("members").GetArrayLength(), json.GetProperty("containment").GetProperty("containment").GetString()));
        Assert.Equal(ExitCodes.Refused, (await RunAsync("containment", "NONE")).Code);
    }

    [Fact]
    public async Task A_lot_is_told_by_how_many_finished_units_carry_it()
    {
        InOrder((await RunAsync("dispersion", "ADH", "L1")).Output, "Note: Counted by what records name", "named by 5 units, in 3 finished units, 1 of them shipped to 1 consignees", "shipped", "Fell End Supplies");
        Assert.Equal(5, (await RunAsync("dispersion", "ADH", "L1", "--json")).Json.GetProperty("lot").GetProperty("units").GetInt32());
        Assert.Equal(ExitCodes.Refused, (await RunAsync("dispersion", "ADH", "NONE")).Code);
        await works.CountedAsync();
        var widest = await RunAsync("dispersion", "ADH", "--show", "3");
        Assert.Equal(ExitCodes.Done, widest.Code);
        InOrder(widest.Output, "ADH: ", "Finished units", "L1", "3");
    }

    [Fact]
    public async Task An_answer_that_may_be_incomplete_says_so_first_and_by_its_exit_code()
    {
        await using var host = await ServiceHost.StartAsync();
        var lamps = new LampWorks(99, LampWorks.DaysAgo(6));
        await Acceptance.Robustness.Terminal.PostAllAsync(host.Admin, [.. lamps.Definitions(), .. lamps.SimpleLamp(1, 0)], batch: 100);
        await Tables.SettleAsync(host.Database);
        await using (var touch = host.Database.CreateCommand("update traceability.unit set has_unreadable = true"))
        {
            Assert.Equal(1, await touch.ExecuteNonQueryAsync());
        }

        var answer = await RunAsync(["scope", "--lot", "ADH=L1", "--url", host.Address.ToString()], string.Empty, host.AdministratorKey);
        Assert.Equal(ExitCodes.Incomplete, answer.Code);
        InOrder(answer.Output, "INCOMPLETE: 1 units and ", "Note: ", "1 units:");
    }

    private static void InOrder(string text, params string[] parts)
    {
        var at = 0;
        foreach (var part in parts)
        {
            var found = text.IndexOf(part, at, StringComparison.Ordinal);
            Assert.True(found >= 0, $"'{part}' does not follow in:\n{text}");
            at = found + part.Length;
        }
    }

    private Task<Answer> RunAsync(params string[] args) => RunAsync(args, string.Empty);

    private async Task<Answer> RunAsync(string[] args, string input, string? key = null)
    {
        using var output = new StringWriter();
        using var errors = new StringWriter();
        string? Variable(string name) => name switch
        {
            TerminalContext.KeyVariable => key ?? works.Key,
            "TRACEABILITY_URL" => works.Address.ToString(),
            _ => null,
        };
        var context = new TerminalContext(new StringReader(input), output, errors, Variable, TimeProvider.System);
        var code = await TerminalApp.RunAsync(args, context, CancellationToken.None);
        return new(code, output.ToString(), errors.ToString());
    }

    private sealed record Answer(int Code, string Output, string Errors)
    {
        public JsonElement Json => Some.Parse(Output);
    }
}
