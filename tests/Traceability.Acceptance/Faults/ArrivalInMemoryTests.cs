using System.Collections.Immutable;
using System.Diagnostics;
using System.Globalization;
using System.Text;
using Traceability.Acceptance.Robustness;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Service.Http.Reading;
using Traceability.Testing;
using Xunit.Abstractions;

namespace Traceability.Acceptance.Faults;

/// <summary>Facts posted several times and in any order give the judgements of the same facts in order and once, for very many histories.</summary>
public sealed class ArrivalInMemoryTests(ITestOutputHelper output)
{
    private const ulong FirstSeed = 30_000;
    private const int Lamps = 3;
    private static readonly DateTimeOffset Start = LampWorks.DaysAgo(6);

    [Fact]
    public void Shuffled_and_repeated_facts_are_judged_as_in_order_and_once()
    {
        var seeds = LongForm.Of(300, 10_000);
        var facts = 0;
        var posts = 0;
        var waits = 0;
        var findings = 0;
        var began = Stopwatch.GetTimestamp();
        Parallel.For(0, seeds, new ParallelOptions { MaxDegreeOfParallelism = 2 }, i =>
        {
            var seed = FirstSeed + (ulong)i;
            var dice = new Dice(seed);
            var history = LampHistory.Build(seed, Start, Lamps).Select(f => (f.Id, f.ClockError, Read: FactReader.Read(Encoding.UTF8.GetBytes(f.Json)).Fact ?? throw new InvalidOperationException(f.Json))).ToArray();
            var inOrder = new Store();
            inOrder.Take([.. history.Select(h => WithClock(h.Read, h.ClockError))]);

            // Each one to five times, in any order; what names something that has not arrived yet is sent again, as terminals do.
            var repeated = dice.Shuffled(history.SelectMany(h => Enumerable.Repeat(WithClock(h.Read, h.ClockError), dice.Int(1, 5))));
            var shuffled = new Store();
            var waited = shuffled.Take(repeated);
            var expected = inOrder.Judged();
            var difference = Tables.Difference(expected, shuffled.Judged());
            Assert.True(difference.Length == 0, $"seed {seed}:\n{difference}");
            Interlocked.Add(ref facts, history.Length);
            Interlocked.Add(ref posts, repeated.Count);
            Interlocked.Add(ref waits, waited);
            Interlocked.Add(ref findings, expected.Count(l => l.StartsWith("finding ", StringComparison.Ordinal)));
        });
        var measured = string.Create(CultureInfo.InvariantCulture, $"{facts} facts in {posts} posts, {waits} of them before what they name; {findings} findings, all the same; {Stopwatch.GetElapsedTime(began).TotalSeconds:0} s");
        output.WriteLine(measured);
        LongForm.Note("3: posts shuffled and repeated 1 to 5 times, by the rules in memory", string.Create(CultureInfo.InvariantCulture, $"{seeds} seeds from {FirstSeed}"), measured);
        Assert.True(waits > seeds && findings > seeds, measured);
    }

    [Fact]
    public async Task Shuffled_and_repeated_facts_are_judged_by_the_service_as_in_order_and_once()
    {
        var seeds = LongForm.Of(2, 200);
        var rows = 0;
        var began = Stopwatch.GetTimestamp();
        await Parallel.ForAsync(0, seeds, new ParallelOptions { MaxDegreeOfParallelism = 2 }, async (i, _) =>
        {
            var seed = FirstSeed + 50_000 + (ulong)i;
            var dice = new Dice(seed);

            // The clocks of their terminals are measured by the second, which a busy machine can't be relied on to do.
            var history = LampHistory.Build(seed, Start, Lamps).Select(f => f with { ClockError = TimeSpan.Zero }).ToArray();
            var repeated = dice.Shuffled(history.SelectMany(h => Enumerable.Repeat(h, dice.Int(1, 5))));
            var inOrder = await ThroughTheServiceAsync(history, 1_000);
            var difference = Tables.Difference(inOrder, await ThroughTheServiceAsync(repeated, dice.Int(3, 40)));
            Assert.True(difference.Length == 0, $"seed {seed}:\n{difference}");
            Interlocked.Add(ref rows, inOrder.Count);
        });
        LongForm.Note("3: posts shuffled and repeated 1 to 5 times, through the service", string.Create(CultureInfo.InvariantCulture, $"{seeds} seeds from {FirstSeed + 50_000}"), string.Create(CultureInfo.InvariantCulture, $"{rows} derived rows, all the same; {Stopwatch.GetElapsedTime(began).TotalSeconds:0} s"));
        Assert.True(rows > seeds * 50);
    }

    private static async Task<IReadOnlyList<string>> ThroughTheServiceAsync(IReadOnlyList<Sent> facts, int batch)
    {
        // A tolerance of a minute: a request that waits for its turn is no clock that is off.
        await using var host = await ServiceHost.StartAsync("--Clock:Tolerance=00:01:00", "--Clock:Bound=00:02:00");
        await Terminal.PostAllAsync(host.Admin, facts, batch);
        await Tables.SettleAsync(host.Database);
        return await Tables.DerivedAsync(host.Database);
    }

    // As the service measures the clock: the limits are its defaults.
    private static ReadFact WithClock(ReadFact read, TimeSpan error)
    {
        var size = error.Duration();
        var clock = size <= TimeSpan.FromSeconds(2) ? new ClockReading(TimeSpan.Zero, TimeSpan.FromSeconds(2), Doubtful: false)
            : size <= TimeSpan.FromMinutes(1) ? new ClockReading(-error, TimeSpan.FromSeconds(2), Doubtful: false)
            : new ClockReading(-error, size, Doubtful: true);
        return read with { Fact = read.Fact with { Clock = clock } };
    }

    /// <summary>The streams and receipts, with the decisions of the domain and nothing of the service.</summary>
    private sealed class Store
    {
        private readonly Dictionary<string, ImmutableArray<RecordedFact>> streams = new(StringComparer.Ordinal);
        private readonly Dictionary<Guid, (string Stream, byte[] Hash)> receipts = [];
        private References references = References.None;
        private DateTimeOffset now = Start;

        /// <summary>Takes posts in this order, and those again that name what is not known yet; gives how many had to wait.</summary>
        public int Take(IReadOnlyList<ReadFact> posts)
        {
            var waited = 0;
            for (var pending = posts; pending.Count > 0;)
            {
                List<ReadFact> again = [.. pending.Where(p => !Take(p))];
                Assert.True(again.Count < pending.Count, "Nothing of what waits is accepted.");
                waited += again.Count;
                pending = again;
            }

            return waited;
        }

        public List<string> Judged() => FreshJudgement.Lines(FreshJudgement.JudgeAll(streams));

        private bool Take(ReadFact post)
        {
            if (receipts.TryGetValue(post.Id, out var before))
            {
                Assert.Equal(before.Hash, post.ContentHash);
                return true;
            }

            var stream = StreamNames.Of(post.Fact) ?? (RecordNamedBy(post.Fact) is { } record && receipts.TryGetValue(record, out var named) ? named.Stream : null);
            if (stream is null)
            {
                return false;
            }

            var facts = streams.GetValueOrDefault(stream, []);
            var fact = CorrectionDecisions.WithClock(facts, post.Fact);
            var refusal = CorrectionDecisions.Check(facts, fact) ?? (stream.StartsWith(StreamNames.UnitPrefix, StringComparison.Ordinal)
                ? UnitDecisions.Check(ProductUnit.Of(UnitKey.Parse(stream[StreamNames.UnitPrefix.Length..]), facts), fact, references)
                : DefinitionDecisions.Check(fact, references));
            if (refusal is { Kind: RefusalKind.Unknown })
            {
                return false;
            }

            Assert.True(refusal is null, refusal?.Detail);
            now += TimeSpan.FromMilliseconds(1);
            streams[stream] = facts = facts.Add(new(post.Id, fact, now));
            receipts[post.Id] = (stream, post.ContentHash);
            references = references.With(stream, References.Fold(stream, facts));
            return true;
        }

        private static Guid? RecordNamedBy(Fact fact) => fact switch
        {
            RecordCorrected c => c.Record,
            RecordVoided v => v.Record,
            _ => null,
        };
    }
}
