using Traceability.Acceptance.Robustness;
using Traceability.Testing;
using Traceability.Testing.Faults;

namespace Traceability.Client.Tests.Service;

/// <summary>Between an outbox and a real service the network breaks in every way: each fact is recorded exactly once, in order.</summary>
public sealed class FaultTests
{
    private static readonly DateTimeOffset Start = LampWorks.DaysAgo(6);

    private static int Rounds => TestLength.IsLong ? 50 : 10;

    private static int Posts => TestLength.IsLong ? 1_000 : 200;

    [Fact]
    public async Task Each_fact_is_recorded_once_and_in_order_whatever_is_cut()
    {
        const ulong seed = 42;
        var dice = new Dice(seed);
        await using var host = await ServiceHost.StartAsync();
        var works = new LampWorks(seed, Start);
        await Acceptance.Robustness.Terminal.PostAllAsync(host.Admin, works.Definitions(), batch: 50);
        var before = (await Recorded.FactsAsync(host)).Count;
        await using var proxy = FaultProxy.Start(host.Address);
        await using var terminal = await TerminalWithOutbox.OpenAsync(proxy.Address, host.Key());
        Dictionary<string, List<Guid>> expected = new(StringComparer.Ordinal);
        List<FaultHit> hits = [];
        terminal.Run(batchMax: 8);
        for (var round = 0; round < Rounds; round++)
        {
            // Three of ten requests are hit; now and then a connection goes silent, before or after the service got the request.
            proxy.Plan = _ => dice.Chance(2) ? new(dice.Pick(FaultKind.SilentAfter, FaultKind.SilentBefore)) : dice.Chance(30) ? Recorded.Any(dice) : Fault.None;
            foreach (var fact in Enumerable.Range(0, Posts / 3).SelectMany(i => works.SimpleLamp(1_000 + (round * 500) + i, i)))
            {
                var entry = await terminal.Outbox.EnqueueJsonAsync(fact.Json);
                expected.TryAdd(entry.Lane, []);
                expected[entry.Lane].Add(entry.FactId);
            }

            await terminal.DrainAsync();
            hits.AddRange(proxy.Hits.Skip(hits.Count));
        }

        // The faults hit: each kind, and often enough after the service had recorded what the client did not hear of.
        Assert.All(Enum.GetValues<FaultKind>().Where(k => k is not (FaultKind.None or FaultKind.SilentAfter or FaultKind.SilentBefore)), k => Assert.NotEqual(0, proxy.Count(k)));
        var cuts = hits.Where(h => h.Fault.Kind is FaultKind.CutRequest or FaultKind.CutResponse or FaultKind.Reset or FaultKind.SilentAfter or FaultKind.SilentBefore).ToList();
        Assert.True(cuts.Count >= Rounds * 5, $"{cuts.Count} cuts hit (seed {seed}).");
        Assert.True(cuts.Count(h => h.WasAnswered) >= Rounds, $"{cuts.Count(h => h.WasAnswered)} hit after the answer.");
        Assert.True(cuts.Count(h => h.PassedOn > 0 && !h.WasAnswered) >= Rounds, $"{cuts.Count(h => h.PassedOn > 0 && !h.WasAnswered)} hit within the request.");

        Assert.Equal(0, terminal.Outbox.View().Refused);
        var facts = await Recorded.FactsAsync(host);
        Assert.Equal(before + expected.Sum(e => e.Value.Count), facts.Count);
        var streams = facts.ToLookup(f => f.Stream, f => f.Id, StringComparer.Ordinal);
        Assert.All(expected, e => Assert.Equal(e.Value, streams[e.Key]));
        Assert.Equal(facts.Count, await Tables.CountAsync(host.Database, "traceability.receipt"));
        LongForm.Note(
            "2: cuts between terminal and service, an outbox sends again",
            FormattableString.Invariant($"{Rounds} rounds of {Posts} posts; seed {seed}"),
            FormattableString.Invariant($"{cuts.Count} cuts hit, {cuts.Count(h => h.WasAnswered)} of them after the service had answered, among {hits.Count} faults; {facts.Count - before} facts recorded, each once and in the order of its unit"));
    }

    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    public async Task Terminals_behind_a_broken_network_give_the_same_judgements_as_an_orderly_post(int seed)
    {
        var facts = LampHistory.Build((ulong)seed, Start, TestLength.IsLong ? 20 : 7);
        await using var orderly = await ServiceHost.StartAsync();
        await Acceptance.Robustness.Terminal.PostAllAsync(orderly.Admin, facts, batch: 1);
        await Tables.SettleAsync(orderly.Database);

        await using var host = await ServiceHost.StartAsync();
        await using var proxy = FaultProxy.Start(host.Address);
        var dice = new Dice((ulong)seed);
        proxy.Plan = _ => dice.Chance(35) ? Recorded.Any(dice) : Fault.None;
        Dictionary<TimeSpan, TerminalWithOutbox> terminals = [];
        foreach (var error in facts.Select(f => f.ClockError).Distinct())
        {
            terminals[error] = await TerminalWithOutbox.OpenAsync(proxy.Address, host.Key(), error);
        }

        // Each terminal has a clock of its own, and knows nothing of what the others have reported.
        foreach (var fact in facts)
        {
            await terminals[fact.ClockError].Outbox.EnqueueJsonAsync(fact.Json);
        }

        foreach (var terminal in terminals.Values)
        {
            terminal.Run(batchMax: 4, patience: TimeSpan.FromMinutes(5));
        }

        foreach (var terminal in terminals.Values)
        {
            await terminal.DrainAsync();
            Assert.Equal(0, terminal.Outbox.View().Refused);
            await terminal.DisposeAsync();
        }

        Assert.True(proxy.Hits.Count >= 20, $"{proxy.Hits.Count} faults hit (seed {seed}).");
        Assert.Equal(facts.Count, await Tables.CountAsync(host.Database, "events.mt_events"));
        await Tables.SettleAsync(host.Database);
        Tables.RequireNone(Tables.Difference(await Tables.DerivedAsync(orderly.Database), await Tables.DerivedAsync(host.Database)));
    }
}
