using Traceability.Acceptance.Robustness;
using Traceability.Client.Outbox;
using Traceability.Testing;

namespace Traceability.Client.Tests.Outbox;

/// <summary>Files that are not as they were written: found out, saved as far as can be, and told.</summary>
public sealed class DamageTests
{
    private const int Facts = 60;

    public enum Harm
    {
        FlipInDatabase,
        FlipInLog,
        CutDatabase,
        CutLog,
        ZeroDatabasePage,
        LoseDatabase,
        LoseLog,
    }

    [Theory]
    [InlineData(Harm.FlipInDatabase)]
    [InlineData(Harm.FlipInLog)]
    [InlineData(Harm.CutDatabase)]
    [InlineData(Harm.CutLog)]
    [InlineData(Harm.ZeroDatabasePage)]
    [InlineData(Harm.LoseDatabase)]
    [InlineData(Harm.LoseLog)]
    public async Task A_damaged_file_is_never_taken_for_a_whole_one(Harm harm)
    {
        var rounds = TestLength.IsLong ? 200 : 8;
        var (told, salvaged, unharmed) = (0, 0, 0);
        for (var seed = 1; seed <= rounds; seed++)
        {
            var crashed = await CrashedAsync(seed);
            using var folder = crashed.Folder;
            Do(harm, folder, new((ulong)seed));

            OutboxDamage? heard = null;
            await using var outbox = await folder.OpenAsync(change: o => o with { OnDamage = d => heard = d });
            var there = (await outbox.ListAsync(OutboxState.Waiting, int.MaxValue)).Concat(await outbox.ListAsync(OutboxState.Refused, int.MaxValue))
                .Concat(await outbox.ListAsync(OutboxState.Sent, int.MaxValue)).ToList();
            var lost = crashed.Stored.Keys.Except(there.Select(e => e.FactId)).Count();

            // What is there is as it was stored, bit for bit; whoever lost something is told.
            Assert.All(there, e => Assert.Equal(crashed.Stored[e.FactId], e.Fact));
            Assert.Equal(heard?.FoundAt, outbox.Damage?.FoundAt);
            Assert.True(lost == 0 || heard is not null, $"{harm}, seed {seed}: {lost} facts are gone and nobody was told.");
            if (heard is null)
            {
                unharmed++;
                continue;
            }

            told++;
            salvaged += there.Count;
            Assert.NotEmpty(heard.Reasons);
            Assert.Equal(heard.Salvaged + heard.SalvagedAsWaiting, there.Count);
            Assert.Equal(lost, heard.Missing);
            Assert.All(heard.MovedTo, f => Assert.True(File.Exists(f), f));
        }

        // The harm was done: to a byte that matters, most times. A flipped bit on a page that is not in use harms nothing.
        Assert.True(told > rounds / 3, $"{harm}: told {told} times of {rounds}, {unharmed} unharmed.");
        if (harm is not Harm.LoseDatabase)
        {
            Assert.True(salvaged > told * Facts / 3, $"{harm}: {salvaged} of {told * Facts} facts were saved.");
        }

        LongForm.Note(
            $"2: files of an outbox damaged, {harm}",
            FormattableString.Invariant($"{rounds} seeds"),
            FormattableString.Invariant($"told {told} times, {salvaged} of {told * Facts} facts saved then, none changed; {unharmed} times nothing was lost"));
    }

    [Fact]
    public async Task A_salvaged_outbox_goes_on_and_keeps_saying_so_until_a_person_has_seen_it()
    {
        var crashed = await CrashedAsync(7);
        using var folder = crashed.Folder;
        Do(Harm.CutLog, folder, new(7));
        await using (var outbox = await folder.OpenAsync())
        {
            Assert.NotNull(outbox.Damage);
            var next = await outbox.EnqueueAsync(Some.Step("99"));
            Assert.True(next.Number > crashed.Stored.Count);
        }

        await using (var outbox = await folder.OpenAsync())
        {
            Assert.NotNull(outbox.Damage);
            Assert.NotNull(outbox.View().Damage);
            Assert.NotNull((await outbox.ListAsync(OutboxState.Waiting, int.MaxValue)).Single(e => e.Lane == "unit/LAMP/99"));
            await outbox.AcknowledgeDamageAsync("P-1");
            Assert.Null(outbox.View().Damage);
        }

        await using var last = await folder.OpenAsync();
        Assert.Null(last.Damage);
    }

    private static async Task<Crashed> CrashedAsync(int seed)
    {
        var dice = new Dice((ulong)seed * 31);
        using var folder = new OutboxFolder();
        Dictionary<Guid, string> stored = [];

        // Some are in the file, some only in its log, as at any moment.
        await using (var outbox = await folder.OpenAsync())
        {
            await StoreAsync(outbox, 'n');
        }

        await using var open = await folder.OpenAsync();
        await StoreAsync(open, 'm');
        return new(folder.Copy(), stored);

        async Task StoreAsync(FactOutbox outbox, char letter)
        {
            // Several commits, of several facts each.
            for (var i = 0; i < Facts / 2; i += 3)
            {
                var notes = Enumerable.Range(i, 3).Select(n => Some.Step(FormattableString.Invariant($"{n % 7}"), note: new string(letter, dice.Int(0, 1_500)))).ToList();
                foreach (var entry in await Task.WhenAll(notes.Select(outbox.EnqueueAsync)))
                {
                    stored[entry.FactId] = entry.Fact;
                }
            }
        }
    }

    private static void Do(Harm harm, OutboxFolder folder, Dice dice)
    {
        var path = harm is Harm.FlipInLog or Harm.CutLog or Harm.LoseLog ? folder.Log : folder.Database;
        if (harm is Harm.LoseDatabase or Harm.LoseLog)
        {
            File.Delete(path);
            return;
        }

        var bytes = File.ReadAllBytes(path);
        switch (harm)
        {
            case Harm.CutDatabase or Harm.CutLog:
                bytes = bytes[..dice.Int(0, bytes.Length - 1)];
                break;
            case Harm.ZeroDatabasePage:
                bytes.AsSpan(dice.Int(0, (bytes.Length / 8192) - 1) * 8192, 8192).Clear();
                break;
            default:
                bytes[dice.Int(0, bytes.Length - 1)] ^= (byte)(1 << dice.Int(0, 7));
                break;
        }

        File.WriteAllBytes(path, bytes);
    }

    private sealed record Crashed(OutboxFolder Folder, Dictionary<Guid, string> Stored);
}
