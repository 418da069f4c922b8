using System.Text.Json;
using Npgsql;
using Traceability.Testing;

namespace Traceability.Acceptance.Robustness;

/// <summary>The same facts in any order, any number of times and in batches of any size give the same judgements.</summary>
public sealed class ArrivalOrderTests
{
    private const int Lamps = 24;
    private const int TriesMax = 3;

    // The history takes 1,650 minutes and up to 26 hours of clock error.
    private static readonly DateTimeOffset Start = LampWorks.DaysAgo(6);

    public static TheoryData<int> Seeds => [.. Enumerable.Range(1, TestLength.IsLong ? 20 : 2)];

    [Theory]
    [MemberData(nameof(Seeds))]
    public async Task The_same_facts_in_any_order_give_the_same_judgements(int seed)
    {
        var facts = LampHistory.Build((ulong)seed, Start, Lamps);
        var dice = new Dice((ulong)seed + 1000);
        var inOrder = await JudgedAsync(facts, batch: 1);
        Assert.Contains(inOrder, l => l.StartsWith("finding ", StringComparison.Ordinal));
        Assert.Contains(inOrder, l => l.StartsWith("step_yield_day ", StringComparison.Ordinal));

        var repeated = facts.SelectMany(f => Enumerable.Repeat(f, dice.Int(1, 3))).ToArray();
        List<string> wrong =
        [
            Named("in one batch", Tables.Difference(inOrder, await JudgedAsync(facts, batch: 100_000))),
            Named("shuffled, in batches of 7", Tables.Difference(inOrder, await JudgedAsync(dice.Shuffled(facts), batch: 7))),
            Named("shuffled and repeated, in batches of 60", Tables.Difference(inOrder, await JudgedAsync(dice.Shuffled(repeated), batch: 60))),
            Named("backwards, on four connections", Tables.Difference(inOrder, await JudgedAsync([.. facts.AsEnumerable().Reverse()], batch: 5, connections: 4))),
        ];

        Tables.RequireNone(string.Concat(wrong));
    }

    [Fact]
    public async Task A_correction_and_its_void_leave_the_rows_as_they_were()
    {
        await using var host = await ServiceHost.StartAsync();
        var facts = LampHistory.Build(77, Start, 8);
        await Terminal.PostAllAsync(host.Admin, facts, batch: 200);
        await Tables.SettleAsync(host.Database);
        var before = await Tables.DerivedAsync(host.Database);
        var works = new LampWorks(999, Start);
        var changed = 0;
        foreach (var fact in facts.Where(f => f.Type == "step-completed"))
        {
            var replacement = LampWorks.With(fact.Json, "defects", JsonSerializer.SerializeToNode(new[] { new { defect = "CHIP", count = 7 } }));
            replacement = replacement.Replace($"\"factId\":\"{fact.Id}\",", string.Empty, StringComparison.Ordinal);
            var correction = works.Fact("record-corrected", 2000, TimeSpan.Zero, LampWorks.Desk, "P-9", $$""" "record":"{{fact.Id}}","replacement":{{replacement}},"reason":"Test","authorisedBy":"P-9" """);
            Assert.Equal((201, string.Empty), Outcome(await Terminal.PostAsync(host.Admin, correction)));
            if (changed++ == 0)
            {
                Assert.NotEqual(string.Empty, Tables.Difference(WithoutVersions(before), WithoutVersions(await Tables.DerivedAsync(host.Database))));
            }

            var undone = works.Fact("record-voided", 2001, TimeSpan.Zero, LampWorks.Desk, "P-9", $$""" "record":"{{correction.Id}}","reason":"Test","authorisedBy":"P-9" """);
            Assert.Equal((201, string.Empty), Outcome(await Terminal.PostAsync(host.Admin, undone)));
        }

        await Tables.SettleAsync(host.Database);
        Assert.True(changed > 20);
        Tables.RequireNone(Tables.Difference(WithoutVersions(before), WithoutVersions(await Tables.DerivedAsync(host.Database))));
        Tables.RequireNone(await FreshJudgement.DifferencesAsync(host.Database));
    }

    private static (int Status, string Code) Outcome(FactReply reply) => (reply.Status, reply.Code);

    // Each correction and void is one more fact of the unit, and what a voided one names is watched for ever: a void may be voided.
    private static string[] WithoutVersions(IEnumerable<string> rows) => [.. rows.Where(r => !r.StartsWith("dependency ", StringComparison.Ordinal)).Select(r =>
        r.StartsWith("unit ", StringComparison.Ordinal) ? System.Text.RegularExpressions.Regex.Replace(r, "\"version\": \\d+", string.Empty, System.Text.RegularExpressions.RegexOptions.None, TimeSpan.FromSeconds(1)) : r)];

    private static string Named(string how, string difference) => difference.Length == 0 ? string.Empty : $"{how}:\n{difference}\n";

    private static async Task<IReadOnlyList<string>> JudgedAsync(IReadOnlyList<Sent> facts, int batch, int connections = 1)
    {
        for (var tries = 1; ; tries++)
        {
            await using var host = await ServiceHost.StartAsync();
            await Terminal.PostAllAsync(host.Admin, facts, batch, connections);
            await Tables.SettleAsync(host.Database);

            // A request that takes more than half a second on a busy machine is measured as a clock that is a second off.
            var doubtful = await ClocksOffAsync(host.Database, facts);
            if (doubtful == 0)
            {
                Assert.Equal(facts.Select(f => f.Id).Distinct().Count(), await Tables.CountAsync(host.Database, "events.mt_events"));
                Tables.RequireNone(await FreshJudgement.DifferencesAsync(host.Database));
                return await Tables.DerivedAsync(host.Database);
            }

            Assert.True(tries < TriesMax, $"The machine is too slow to measure clocks by the second: {doubtful} facts are off in the last of {tries} tries.");
        }
    }

    private static async Task<int> ClocksOffAsync(NpgsqlDataSource database, IReadOnlyList<Sent> facts)
    {
        var expected = facts.DistinctBy(f => f.Id).ToDictionary(f => f.Id, f => -f.ClockError);
        await using var command = database.CreateCommand("select id, data -> 'clock' ->> 'offset' from events.mt_events");
        await using var reader = await command.ExecuteReaderAsync();
        var off = 0;
        while (await reader.ReadAsync())
        {
            off += Contracts.IsoDuration.TryParse(reader.GetString(1), out var offset) && offset == expected[reader.GetGuid(0)] ? 0 : 1;
        }

        return off;
    }
}
