using System.Globalization;
using System.Text;
using System.Text.Json;
using CsCheck;
using Traceability.Acceptance.Robustness;
using Traceability.Contracts;
using Traceability.Contracts.Scope;
using Traceability.Domain.Facts;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;
using Traceability.Domain.Tools;
using Traceability.Service.Features.Scope;
using Traceability.Testing;
using Traceability.Testing.Scope.Facts;
using Xunit.Abstractions;

namespace Traceability.Acceptance.Scopes;

/// <summary>
/// Made-up histories told to the real service, with corrections, voids and late facts in the order of their arrival. Its answers are
/// held against what truly happened, and against a search over judgements made anew from nothing but the stored facts.
/// </summary>
public sealed class FactHistoryTests(ITestOutputHelper output)
{
    private static int Histories => TestLength.IsLong ? 400 : 16;

    [Fact]
    public async Task What_the_service_finds_in_its_tables_is_what_the_facts_say_and_leaves_out_nothing_that_is_so()
    {
        var histories = Made(Histories);
        await using var host = await ServiceHost.StartAsync();
        await Terminal.PostAllAsync(host.Admin, WireFacts.Definitions([.. histories.Select(h => h.Plant)]), batch: 200);

        // Everything in the order of its arrival, a fact of each history in turn.
        var told = histories.SelectMany((h, n) => h.Told.Select((t, i) => (Order: i, Sent: WireFacts.Write(t.Fact, n)))).OrderBy(t => t.Order).Select(t => t.Sent).ToArray();
        await Terminal.PostAllAsync(host.Admin, told, batch: 40);
        await Tables.SettleAsync(host.Database);
        var streams = await FreshJudgement.StreamsAsync(host.Database);
        var judged = FreshJudgement.JudgeAll(streams);
        Tables.RequireNone(await FreshJudgement.DifferencesAsync(host.Database, judged));

        var source = new JudgementScopeSource(judged.Values);
        var (asked, members) = (0, 0);
        foreach (var history in histories)
        {
            foreach (var suspect in history.Singles.Append(history.Combination))
            {
                var answer = await AskAsync(host.Admin, suspect);
                var expected = (await ScopeSearch.RunAsync(suspect, source, Knowledge(history, streams), default)).Members.ToArray();
                Assert.Equal(expected.Select(Say), answer.Select(Say));
                var truth = history.Truth.Reached(suspect);
                Assert.Empty(truth.Except(answer.Select(Name)));
                Assert.Empty(answer.Where(m => m.Verdict == "proven" && IsOwn(history, m.Item)).Select(Name).Except(history.Truth.Reached(suspect, anyRule: true)));
                (asked, members) = (asked + 1, members + answer.Count);
            }
        }

        output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{told.Length} facts of {histories.Length} histories, {asked} questions, {members} members"));
        Assert.True(members > asked, $"{members} members of {asked} questions are too few to show anything.");
    }

    private static FactHistory[] Made(int count)
    {
        var made = new List<FactHistory>();
        Gen.Int[0, 719].Array[900, 1_300].Sample(
            numbers =>
            {
                var history = FactHistory.From(numbers, holesMax: 6, tag: string.Create(CultureInfo.InvariantCulture, $"-{made.Count}"), isWire: true);

                // Which parts a mix has would be defined with its item, and here it is made up with the mix.
                if (made.Count < count && !history.Lots.Values.Any(l => l.Effective.Any(f => f.Fact is LotMixed)))
                {
                    made.Add(history);
                }
            },
            iter: count * 2,
            threads: 1,
            seed: "0000KVeYYhk4");
        return [.. made];
    }

    private static bool IsOwn(FactHistory history, string item) =>
        item == history.Plant.Pin.Value || item == history.Plant.Sub.Value || item == history.Plant.Top.Value;

    private static string Name(ScopeQuestionMember member) => $"{member.Item}/{member.Serial}";

    private static string Say(ScopeQuestionMember m) => $"{Name(m)} {m.Verdict} now {m.Now} from {m.ExposedFrom:u} to {m.ExposedTo:u}";

    private static string Say(FoundMember m) =>
        $"{m.Unit} {Word(m.Verdict)} now {(m.Now is { } now ? Word(now) : "clear")} from {m.From:u} to {m.To:u}";

    private static string Word(ScopeVerdict verdict) => verdict == ScopeVerdict.Proven ? "proven" : "possible";

    private static ScopeKnowledge Knowledge(FactHistory history, IReadOnlyDictionary<string, System.Collections.Immutable.ImmutableArray<RecordedFact>> streams)
    {
        // The lots of one history have two items of their own.
        var lots = streams.Where(s => s.Key.StartsWith(StreamNames.LotPrefix, StringComparison.Ordinal))
            .Select(s => Lot.Of(LotKey.Parse(s.Key[StreamNames.LotPrefix.Length..]), s.Value))
            .Where(l => l.Key.Item == history.Truth.Factor.Lot.Item)
            .ToDictionary(l => l.Key);
        return new(new Dictionary<LotKey, IReadOnlyDictionary<LotKey, Lot>> { [history.Truth.Factor.Lot] = lots })
        {
            Tools = new Dictionary<ToolNumber, Tool> { [history.Plant.Tool] = Tool.Of(history.Plant.Tool, streams[StreamNames.Of(history.Plant.Tool)]) },
        };
    }

    private static async Task<List<ScopeQuestionMember>> AskAsync(HttpClient client, Suspect suspect)
    {
        var members = new List<ScopeQuestionMember>();
        for (string? after = string.Empty; after is not null;)
        {
            using var content = new StringContent($$"""{"suspect":{{SuspectJson.Write(suspect)}} }""", Encoding.UTF8, "application/json");
            var query = after.Length == 0 ? string.Empty : "&after=" + Uri.EscapeDataString(after);
            using var answer = await client.PostAsync(new Uri("/api/scopes?limit=1000" + query, UriKind.Relative), content);
            var text = await answer.Content.ReadAsStringAsync();
            Assert.True(answer.IsSuccessStatusCode, $"{suspect}: {text}");
            var page = JsonSerializer.Deserialize<ScopeQuestionAnswer>(text, WireJson.Options)!;
            members.AddRange(page.Members);
            after = page.After;
        }

        return members;
    }
}
