using Traceability.Acceptance.Robustness;
using Traceability.Client.Outbox;
using Traceability.Testing;

namespace Traceability.Client.Tests.Outbox;

/// <summary>kill -9 of the terminal's program while it stores.</summary>
public sealed class KillTests
{
    [Fact]
    public async Task Everything_that_was_said_to_be_stored_is_there_after_a_kill_at_any_moment()
    {
        const ulong seed = 20260302;
        var dice = new Dice(seed);
        using var folder = new OutboxFolder();
        var kills = TestLength.IsLong ? 50 : 8;
        var said = new HashSet<Guid>();
        var logsLeft = 0;
        for (var kill = 0; kill < kills; kill++)
        {
            var stored = await EnqueueProcess.RunAndKillAsync(folder.Path, TimeSpan.FromMilliseconds(dice.Int(0, 250)));
            said.UnionWith(stored.Select(s => s.Id));

            // It was killed in the midst: a program that ends in order leaves no log.
            logsLeft += File.Exists(folder.Log) ? 1 : 0;
            await using var outbox = await folder.OpenAsync();
            Assert.Null(outbox.Damage);
            var there = await outbox.ListAsync(OutboxState.Waiting, int.MaxValue);
            Assert.Empty(said.Except(there.Select(e => e.FactId)));
            Assert.Equal(there.Count, there.Select(e => e.FactId).Distinct().Count());
            Assert.InRange(there.Count - said.Count, 0, 4 * (kill + 1));
        }

        Assert.Equal(kills, logsLeft);
        Assert.True(said.Count > kills, $"Only {said.Count} facts were stored in {kills} runs (seed {seed}).");
        LongForm.Note(
            "2: kill -9 of the terminal's program while its outbox stores",
            FormattableString.Invariant($"{kills} kills; seed {seed}"),
            FormattableString.Invariant($"{said.Count} facts said to be stored, lost 0, twice 0"));
    }
}
