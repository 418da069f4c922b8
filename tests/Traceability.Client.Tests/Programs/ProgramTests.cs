using System.Text.Json;
using Traceability.Acceptance.Robustness;
using Traceability.Client.Tests.Outbox;
using Traceability.Terminal;
using Traceability.Testing;

namespace Traceability.Client.Tests.Programs;

/// <summary>The terminal program, as a script uses it: what it prints and what it ends with.</summary>
public sealed class ProgramTests(ServiceFixture fixture) : IClassFixture<ServiceFixture>, IDisposable
{
    private static int next;

    private readonly OutboxFolder folder = new();

    private ServiceHost Host => fixture.Host;

    public void Dispose() => folder.Dispose();

    [Fact]
    public async Task A_step_is_completed_and_its_findings_are_shown()
    {
        var (works, serial) = await NewLampAsync();
        var done = await RunAsync("complete", "LAMP", serial, "GLUE", "--lot", "ADH=L1/T1", "--station", "ST-1", "--person", "P-1", "--at", works.Time(5), "--note", "by hand");

        Assert.Equal(ExitCodes.Done, done.Code);
        Assert.Contains("recorded", done.Output, StringComparison.Ordinal);
        Assert.Contains("prerequisite", done.Output, StringComparison.OrdinalIgnoreCase);
        var unit = await RunAsync("unit", "LAMP", serial, "--json");
        Assert.Equal("GLUE", unit.Json.GetProperty("steps")[0].GetProperty("step").GetString());
        Assert.Contains("GLUE", (await RunAsync("unit", "LAMP", serial)).Output, StringComparison.Ordinal);
        Assert.Contains("by hand", (await RunAsync("unit", "LAMP", serial, "--record")).Output, StringComparison.Ordinal);

        var carriers = await RunAsync("carriers", "ADH", "L1");
        Assert.Equal(ExitCodes.Done, carriers.Code);
        Assert.Contains(serial, carriers.Output, StringComparison.Ordinal);
        Assert.Contains(serial, (await RunAsync("carriers", "ADH", "L1", "T1", "--json")).Output, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Every_part_of_a_step_gets_there_as_it_was_typed()
    {
        var (works, serial) = await NewLampAsync();
        var done = await RunAsync(
            "complete", "LAMP", serial, "SCREW", "--tool", "SD-1=5", "--measure", "DEPTH=1.20mm", "--check", "OK=fail", "--defect", "CHIP=2", "--component", "HEAD=HEAD/77",
            "--lot", "ADH=L1,L2", "--rework", "--started", works.Time(4), "--at", works.Time(5), "--station", "ST-1", "--person", "P-1", "--json");

        Assert.Equal(ExitCodes.Done, done.Code);
        var sent = Some.Parse(done.Json.GetProperty("facts")[0].GetProperty("fact").GetString()!);
        Assert.Equal("""[{"item":"ADH","lots":["L1","L2"]}]""", sent.GetProperty("materials").GetRawText());
        Assert.Equal("""[{"tool":"SD-1","setting":"5"}]""", sent.GetProperty("tools").GetRawText());
        Assert.Equal("""[{"characteristic":"DEPTH","value":1.20,"unit":"mm"}]""", sent.GetProperty("measurements").GetRawText());
        Assert.Equal("""[{"characteristic":"OK","passed":false}]""", sent.GetProperty("checks").GetRawText());
        Assert.Equal("""[{"defect":"CHIP","count":2}]""", sent.GetProperty("defects").GetRawText());
        Assert.Equal("""[{"position":"HEAD","component":{"item":"HEAD","serial":"77"}}]""", sent.GetProperty("components").GetRawText());
        Assert.True(sent.GetProperty("isRework").GetBoolean());
    }

    [Fact]
    public async Task Cautions_are_shown_before_the_answer()
    {
        var (_, serial) = await NewLampAsync();
        var no = await RunAsync("may-start", "LAMP", serial, "GLUE", "--station", "ST-1", "--person", "P-1");

        Assert.Equal(ExitCodes.No, no.Code);
        Assert.True(no.Output.IndexOf("Vapour", StringComparison.Ordinal) is >= 0 and var caution && caution < no.Output.IndexOf("NO ", StringComparison.Ordinal), no.Output);
        Assert.Equal(ExitCodes.Done, (await RunAsync("may-start", "LAMP", serial, "WIRE", "--station", "ST-1", "--person", "P-1", "--json")).Code);
    }

    [Fact]
    public async Task Without_a_service_facts_are_stored_and_sent_later()
    {
        var (works, serial) = await NewLampAsync();
        var facts = string.Join('\n', works.SimpleLamp(int.Parse(serial, System.Globalization.CultureInfo.InvariantCulture), 3).Skip(1).Select(f => f.Json));

        var stored = await RunAsync(["record", "--url", "http://127.0.0.1:1", "--json"], facts);
        Assert.Equal(ExitCodes.StoredOnly, stored.Code);
        Assert.Equal(2, stored.Json.GetProperty("waiting").GetInt32());
        var pending = await RunAsync("pending", "--json");
        Assert.Equal((ExitCodes.Done, 2), (pending.Code, pending.Json.GetProperty("view").GetProperty("waiting").GetInt32()));
        Assert.Contains("2 wait", (await RunAsync("pending")).Output, StringComparison.Ordinal);
        Assert.Equal(ExitCodes.Unreachable, (await RunAsync("unit", "LAMP", serial, "--url", "http://127.0.0.1:1")).Code);

        Assert.Equal(ExitCodes.Done, (await RunAsync("send")).Code);
        Assert.Equal(0, (await RunAsync("pending", "--json")).Json.GetProperty("view").GetProperty("waiting").GetInt32());
        Assert.Equal(ExitCodes.Done, (await RunAsync("watch", "--until-empty")).Code);
    }

    [Fact]
    public async Task A_refused_fact_is_listed_amended_sent_again_or_dropped()
    {
        var (works, _) = await NewLampAsync();
        var unknown = """{"type":"unit-held","occurredAt":"@","unit":{"item":"LAMP","serial":"987654"},"reason":"Doubt","station":"ST-1","person":"P-1"}""".Replace("@", works.Time(1), StringComparison.Ordinal);
        var refused = await RunAsync(["record", "--json"], $"[{unknown},{unknown},{unknown}]");
        Assert.Equal(ExitCodes.Refused, refused.Code);
        var ids = refused.Json.GetProperty("facts").EnumerateArray().Select(f => f.GetProperty("factId").GetString()!).ToList();
        Assert.Contains("unit-unknown", (await RunAsync("refused")).Output, StringComparison.Ordinal);

        Assert.Equal(ExitCodes.Refused, (await RunAsync("again", ids[0], "--by", "P-9")).Code);
        Assert.Equal(ExitCodes.NotUnderstood, (await RunAsync("drop", ids[0], "--by", "P-9")).Code);
        Assert.Equal(ExitCodes.Done, (await RunAsync("drop", ids[0][..13], "--by", "P-9", "--reason", "Rehearsal")).Code);
        var (_, serial) = await NewLampAsync();
        Assert.Equal(ExitCodes.Done, (await RunAsync(["amend", ids[1], "--by", "P-9", "--reason", "Typed wrong"], unknown.Replace("987654", serial, StringComparison.Ordinal))).Code);
        Assert.Equal(1, (await RunAsync("refused", "--json")).Json.GetProperty("view").GetProperty("refused").GetInt32());
    }

    [Fact]
    public async Task What_is_not_understood_stores_nothing_and_says_what_would_be_right()
    {
        string[][] wrong =
        [
            ["complet"], ["complete", "LAMP", "1"], ["complete", "LAMP", "1", "WIRE", "--measure", "DEPTH"], ["complete", "LAMP", "1", "WIRE", "--at", "2026-03-02T09:00"],
            ["complete", "LAMP", "1", "WIRE", "--check", "OK=maybe"], ["complete", "LAMP", "1", "WIRE", "--key", "secret"], ["record", "/no/such/file"], ["unit", "LAMP", "1", "--url", "ftp://x"],
        ];
        foreach (var args in wrong)
        {
            var answer = await RunAsync(args);
            Assert.Equal(ExitCodes.NotUnderstood, answer.Code);
            Assert.NotEqual(string.Empty, answer.Errors);
        }

        Assert.Equal(ExitCodes.NotUnderstood, (await RunAsync(["record"], "{\"type\":\"x\"}\n{broken")).Code);
        Assert.Equal(0, (await RunAsync("pending", "--json")).Json.GetProperty("view").GetProperty("waiting").GetInt32());
    }

    [Fact]
    [System.Runtime.Versioning.UnsupportedOSPlatform("windows")]
    public async Task A_key_file_that_others_may_read_is_not_used()
    {
        var file = Path.Combine(folder.Path, "key");
        await File.WriteAllTextAsync(file, Host.AdministratorKey);
        File.SetUnixFileMode(file, UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.GroupRead);
        Assert.Equal(ExitCodes.NotUnderstood, (await RunAsync("clock", "--key-file", file)).Code);

        File.SetUnixFileMode(file, UnixFileMode.UserRead | UnixFileMode.UserWrite);
        var clock = await RunAsync("clock", "--key-file", file, "--json");
        Assert.Equal(ExitCodes.Done, clock.Code);
        Assert.InRange(clock.Json.GetProperty("offsetSeconds").GetDouble(), -2, 2);
    }

    [Fact]
    public async Task An_outbox_in_use_and_a_damaged_one_are_told()
    {
        await using (await folder.OpenAsync())
        {
            var inUse = await RunAsync("pending");
            Assert.Equal(ExitCodes.NotStored, inUse.Code);
            Assert.Contains("in use by process", inUse.Errors, StringComparison.Ordinal);
        }

        File.Delete(folder.Database);
        await RunAsync(["record", "--store-only"], """{"type":"x"}""");
        File.Delete(folder.Database);
        Assert.Contains("DAMAGED", (await RunAsync("pending")).Errors, StringComparison.Ordinal);
        Assert.Equal(ExitCodes.Done, (await RunAsync("damage-seen", "--by", "P-1")).Code);
        Assert.DoesNotContain("DAMAGED", (await RunAsync("pending")).Errors, StringComparison.Ordinal);
    }

    private async Task<(LampWorks Works, string Serial)> NewLampAsync()
    {
        var works = new LampWorks((ulong)(500 + Interlocked.Increment(ref next)), LampWorks.DaysAgo(6));
        if (await Tables.CountAsync(Host.Database, "events.mt_events") == 0)
        {
            await Acceptance.Robustness.Terminal.PostAllAsync(Host.Admin, works.Definitions(), batch: 50);
        }

        var serial = Interlocked.Increment(ref next) + 20;
        await Acceptance.Robustness.Terminal.PostAllAsync(Host.Admin, works.SimpleLamp(serial, 0)[..1], batch: 1);
        return (works, FormattableString.Invariant($"{serial}"));
    }

    private Task<Answer> RunAsync(params string[] args) => RunAsync(args, string.Empty);

    private async Task<Answer> RunAsync(string[] args, string input)
    {
        using var output = new StringWriter();
        using var errors = new StringWriter();
        string? Variable(string name) => name switch
        {
            TerminalContext.KeyVariable => Host.AdministratorKey,
            "TRACEABILITY_URL" => Host.Address.ToString(),
            "TRACEABILITY_OUTBOX" => folder.Path,
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
