using System.Diagnostics;
using System.Globalization;
using System.Net;
using System.Net.Http.Json;
using System.Text.Json;
using Npgsql;
using Traceability.Acceptance.Rebuilds;
using Traceability.Acceptance.Robustness;
using Traceability.Domain.Facts;
using Traceability.Service.Features.Rebuilds;
using Traceability.Testing;
using Xunit.Abstractions;

namespace Traceability.Acceptance.Corrections;

/// <summary>A correction of any fact judges again exactly what depends on it.</summary>
/// <remarks>
/// After each of many corrections, chosen by chance among the facts of all kinds, every stored row is compared with a full recomputation
/// from the events, and the units that were judged again with those whose judgement looks at what was corrected.
/// </remarks>
public sealed class CorrectionTests(ITestOutputHelper output)
{
    private const int Lamps = 16;
    private const int StandingMax = 20;

    /// <summary>Kinds of facts that are recorded as they are: corrected neither, and the last two not voided, either.</summary>
    private static readonly string[] NotCorrected = ["routing-approved", "routing-drafted", "routing-released"];

    private static int CorrectionsMax => TestLength.IsLong ? 1_000 : 40;

    [Fact]
    public async Task After_every_one_of_many_random_corrections_exactly_what_depends_on_it_is_judged_again()
    {
        await using var host = await ServiceHost.StartAsync();
        var works = new LampWorks(301, LampWorks.DaysAgo(8));
        var history = SpotHistory.Build(3, works, Lamps);
        await Terminal.PostAllAsync(host.Admin, history, batch: 500);
        history.AddRange(await SignedAsync(host, works));
        await Tables.SettleAsync(host.Database);
        var dice = new Dice(17);
        var corrections = new Choice(dice, works, history);
        var seen = new Tally();
        var before = await Outlook.ReadAsync(host.Database);
        Tables.RequireNone(await FreshJudgement.DifferencesAsync(host.Database, before.Judged));
        var started = Stopwatch.GetTimestamp();
        while (seen.Recorded < CorrectionsMax)
        {
            var (named, sent) = corrections.Next();
            var reply = await Terminal.PostAsync(host.Admin, sent);
            seen.Take(named.Type, sent.Type, reply);
            if (reply.IsRecorded)
            {
                corrections.Add(named, sent);
            }

            await JudgedAgainAsync(host.Database);
            var after = await Outlook.ReadAsync(host.Database);
            var what = $"correction {seen.Recorded} of {named.Type}: {sent.Json}\nof {named.Json}\n";
            Require(what, await FreshJudgement.DifferencesAsync(host.Database, after.Judged));
            Require(what, string.Join('\n', await YieldCheck.CheckAsync(host.Database, CancellationToken.None)));
            Require(what, reply.IsRecorded ? seen.Compare(await StreamAsync(host.Database, sent.Id), before, after) : string.Join(' ', Tally.Again(before, after)));
            before = after;
        }

        output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{history.Count} facts of {before.Judged.Count} units; {seen} in {Stopwatch.GetElapsedTime(started).TotalSeconds:0} s"));
        RebuildClient.RequireEqual(await RebuildClient.RunAsync(host.Admin, compareOnly: true));
        Assert.True(seen.Changing * 4 > seen.Recorded, $"Only {seen.Changing} of {seen.Recorded} corrections changed what is judged.");
        if (TestLength.IsLong)
        {
            Assert.Equal([], corrections.Kinds.Except(NotCorrected.Skip(1)).Where(k => !seen.Voided.Contains(k)));
            Assert.Equal([], corrections.Kinds.Except(NotCorrected).Where(k => !seen.Corrected.Contains(k)));
        }
    }

    [Fact]
    public void The_history_has_every_kind_of_fact()
    {
        var kinds = SpotHistory.Build(3, new(301, LampWorks.DaysAgo(8)), Lamps).Select(f => f.Type).ToHashSet(StringComparer.Ordinal);

        // Mixes and batches are changed at random in a history of their own; no judgement of a unit looks at a containment.
        string[] elsewhere =
        [
            "batch-ended", "batch-formed", "batch-split", "batch-step-completed", "batch-step-started", "containment-closed", "containment-reopened", "follow-up-recorded",
            "late-members-acknowledged", "lot-mixed", "record-corrected", "record-voided",
        ];
        Assert.Equal(elsewhere, Service.Http.Reading.FactType.Names.Where(n => !kinds.Contains(n)));
    }

    // Some lamps are released under a signature, which is judged again with every later fact, and some of these leave together.
    private static async Task<List<Sent>> SignedAsync(ServiceHost host, LampWorks works)
    {
        int[] serials = [101, 102, 103, 104];
        List<Sent> signed = [.. serials.SelectMany(s => SpotHistory.Clean(works, s, 80 + (s - 100) * 5))];
        await Terminal.PostAllAsync(host.Admin, signed, batch: 500);
        const string Secret = "of no great length";
        using var set = await host.Quality.PutAsJsonAsync("/api/people/P-9/signing-secret", new { secret = Secret });
        Assert.Equal(HttpStatusCode.NoContent, set.StatusCode);
        foreach (var serial in serials)
        {
            var id = works.Id();
            await RequireAsync(host.Quality.PostAsJsonAsync($"/api/units/SPOT/{serial}/release", new { factId = id, person = "P-9", secret = Secret, meaning = "released" }));
            signed.Add(Told(id, "unit-released", LampWorks.Unit("SPOT", serial)));
        }

        var shipped = await RequireAsync(host.Quality.PostAsJsonAsync(
            "/api/shipments", new { shipmentId = works.Id(), consignee = "Fell End Supplies", person = "P-9", units = new[] { 101, 102 }.Select(s => new { item = "SPOT", serial = $"{s}" }) }));
        signed.AddRange(shipped.GetProperty("units").EnumerateArray().Select((u, i) =>
            Told(u.GetProperty("factId").GetGuid(), "unit-shipped", LampWorks.Unit("SPOT", 101 + i) + ""","consignee":"Fell End Supplies" """)));
        return signed;

        // As it would be sent, so that it can be corrected.
        Sent Told(Guid id, string type, string members) => new(id, type, $$"""{"factId":"{{id}}",{{works.Content(type, 6_000, TimeSpan.Zero, LampWorks.Desk, "P-9", members)}}}""", TimeSpan.Zero);
    }

    private static async Task<JsonElement> RequireAsync(Task<HttpResponseMessage> sent)
    {
        using var answer = await sent;
        var text = await answer.Content.ReadAsStringAsync();
        Assert.True(answer.StatusCode == HttpStatusCode.Created, text);
        return JsonDocument.Parse(text).RootElement;
    }

    private static void Require(string what, string difference) => Assert.True(difference.Length == 0, what + difference);

    private static async Task JudgedAgainAsync(NpgsqlDataSource database)
    {
        var started = Stopwatch.GetTimestamp();
        while (await Tables.CountAsync(database, "traceability.rejudge") > 0)
        {
            Assert.True(Stopwatch.GetElapsedTime(started) < TimeSpan.FromSeconds(60), "Units still wait to be judged again after a minute.");
            await Task.Delay(5);
        }
    }

    private static async Task<string> StreamAsync(NpgsqlDataSource database, Guid fact)
    {
        await using var command = database.CreateCommand("select stream from traceability.receipt where fact_id = $1");
        command.Parameters.Add(new() { Value = fact });
        return (string)(await command.ExecuteScalarAsync())!;
    }

    /// <summary>Chooses what to correct, and how.</summary>
    private sealed class Choice
    {
        private readonly Dice dice;
        private readonly LampWorks works;
        private readonly Changes changes;
        private readonly Dictionary<string, List<Sent>> byKind;
        private readonly List<Sent> standing = [];
        private readonly Dictionary<Guid, (Sent Undoing, Sent Undone)> undone = [];
        private readonly HashSet<string> voided = new(StringComparer.Ordinal);
        private readonly HashSet<string> replaced = new(StringComparer.Ordinal);

        public Choice(Dice dice, LampWorks works, IEnumerable<Sent> history)
        {
            this.dice = dice;
            this.works = works;
            changes = new(dice, works);
            byKind = history.GroupBy(f => f.Type, StringComparer.Ordinal).ToDictionary(g => g.Key, g => g.ToList(), StringComparer.Ordinal);
            Kinds = [.. byKind.Keys.Order(StringComparer.Ordinal)];
        }

        public IReadOnlyList<string> Kinds { get; }

        /// <summary>The correction is recorded: it stands, unless it took another one back.</summary>
        public void Add(Sent named, Sent sent)
        {
            if (standing.Remove(named))
            {
                undone[sent.Id] = (sent, named);
            }
            else if (undone.Remove(named.Id, out var again))
            {
                standing.Add(again.Undone);
            }
            else
            {
                standing.Add(sent);
                (sent.Type == "record-voided" ? voided : replaced).Add(named.Type);
            }
        }

        // Each kind as often as any other, though steps are by far the most of the facts. Corrections are taken back, too, so that at any
        // time only some stand: where everything is void, there is nothing left to judge.
        public (Sent Named, Sent Correction) Next()
        {
            var at = 5_000 + dice.Int(0, 3_000);
            if (standing.Count >= StandingMax || (standing.Count > 0 && dice.Chance(25)))
            {
                var undo = dice.Pick(standing);
                return (undo, Void(undo, at));
            }

            if (undone.Count > 0 && dice.Chance(10))
            {
                var (undoing, _) = dice.Pick<(Sent Undoing, Sent Undone)>([.. undone.Values]);
                return (undoing, Void(undoing, at));
            }

            var named = dice.Pick(byKind[dice.Pick(Kinds)]);
            return (named, IsVoid(named.Type) ? Void(named, at) : works.Fact(
                "record-corrected", at, TimeSpan.Zero, LampWorks.Desk, "P-9", $$""" "record":"{{named.Id}}","replacement":{{changes.Of(named)}},"reason":"Misread","authorisedBy":"P-9" """));
        }

        // Of each kind one is voided and one replaced before chance decides; what is refused is tried again.
        private bool IsVoid(string kind) => (voided.Contains(kind), replaced.Contains(kind)) switch
        {
            (true, false) => false,
            (false, true) => true,
            var (both, _) => dice.Chance(both ? 30 : 50),
        };

        private Sent Void(Sent named, double at) =>
            works.Fact("record-voided", at, TimeSpan.Zero, LampWorks.Desk, "P-9", $$""" "record":"{{named.Id}}","reason":"Wrong record","authorisedBy":"P-9" """);
    }

    /// <summary>Counts, and compares the units that were judged again with those that had to be.</summary>
    private sealed class Tally
    {
        private int refused;
        private int again;
        private int needless;

        public int Recorded { get; private set; }

        public int Changing { get; private set; }

        public HashSet<string> Voided { get; } = new(StringComparer.Ordinal);

        public HashSet<string> Corrected { get; } = new(StringComparer.Ordinal);

        /// <summary>The units that were judged between.</summary>
        public static IEnumerable<string> Again(Outlook before, Outlook after) =>
            after.Counts.Where(c => before.Counts.GetValueOrDefault(c.Key) != c.Value).Select(c => c.Key);

        public void Take(string kind, string correction, FactReply reply)
        {
            if (!reply.IsRecorded)
            {
                Assert.True(reply.Status is >= 400 and < 500 && reply.Code.Length > 0, $"{reply.Status} {reply.Body}");
                refused++;
                return;
            }

            Recorded++;
            (correction == "record-voided" ? Voided : Corrected).Add(kind);
        }

        /// <summary>What was judged again without need or not judged again though it looks at what changed; empty for neither.</summary>
        /// <remarks>
        /// More than those that look at it may be judged again, without a change to their rows, in two cases, which are by design. A unit
        /// that names the stream in a record that doesn't count, since names are kept and never struck off. Every unit where a site or a
        /// station was corrected, since no row says where a decision was made. None else. Fewer may be, of those that look at temperatures
        /// of the day, where the correction is about another time of that day, and none where a site keeps its time zone or a station its site.
        /// </remarks>
        public string Compare(string stream, Outlook before, Outlook after)
        {
            HashSet<string> changed = [stream, .. after.Moved(before)];
            var own = stream.StartsWith(StreamNames.UnitPrefix, StringComparison.Ordinal) ? stream[StreamNames.UnitPrefix.Length..] : null;
            var looking = before.Lookers(changed).Concat(after.Lookers(changed)).Append(own ?? string.Empty).Where(u => u.Length > 0).ToHashSet(StringComparer.Ordinal);
            var naming = after.Namers([.. changed, .. changed.Select(NotedReferences.Of)]).ToHashSet(StringComparer.Ordinal);
            var judged = Again(before, after).ToHashSet(StringComparer.Ordinal);
            again += judged.Count;
            needless += judged.Count(u => !looking.Contains(u));
            Changing += judged.Any(u => !SameRows(before, after, u)) ? 1 : 0;
            var isOfPlace = stream.StartsWith("site/", StringComparison.Ordinal) || stream.StartsWith("station/", StringComparison.Ordinal);
            var isOfTemperature = stream.StartsWith(StreamNames.TemperaturePrefix, StringComparison.Ordinal);
            string[] faults =
            [
                .. judged.Where(u => !looking.Contains(u) && !naming.Contains(u) && !isOfPlace).Select(u => $"{u} was judged again, and neither looks at {string.Join(", ", changed)} nor names it."),
                .. looking.Where(u => !judged.Contains(u) && !isOfTemperature && !(isOfPlace && judged.Count == 0)).Select(u => $"{u} looks at {string.Join(", ", changed)}, and was not judged again."),
            ];
            return string.Join('\n', faults);
        }

        public override string ToString() => string.Create(
            CultureInfo.InvariantCulture,
            $"{Recorded} corrections recorded, {refused} refused, {Changing} of them changed rows; {Voided.Count} kinds voided, {Corrected.Count} replaced; {again} units judged again, {needless} of them without looking at it");

        private static bool SameRows(Outlook before, Outlook after, string unit) =>
            FreshJudgement.Lines(new(StringComparer.Ordinal) { [unit] = before.Judged[unit] })
                .SequenceEqual(FreshJudgement.Lines(new(StringComparer.Ordinal) { [unit] = after.Judged[unit] }), StringComparer.Ordinal);
    }
}
