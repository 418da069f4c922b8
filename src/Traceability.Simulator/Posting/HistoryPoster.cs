using System.Collections.Concurrent;
using Traceability.Simulator.Plant;

namespace Traceability.Simulator.Posting;

/// <summary>How a history is posted.</summary>
public sealed record PostOptions
{
    /// <summary>How many requests run at the same time; 1 to 256.</summary>
    public int Connections { get; init; } = 8;

    /// <summary>How many facts at most go into one request; 1: each fact is posted by itself.</summary>
    public int Batch { get; init; } = 200;

    /// <summary>How many facts are looked at together while they are sorted into requests.</summary>
    public int Window { get; init; } = 4_000;

    /// <summary>Post in an order drawn from this seed, in batches of sizes drawn from it; null: in the plant's order.</summary>
    public ulong? ShuffleSeed { get; init; }

    /// <summary>How many of ten thousand facts are posted twice, drawn from <see cref="ShuffleSeed"/> (or from zero).</summary>
    public int DuplicatesInTenThousand { get; init; }
}

/// <summary>What came of posting.</summary>
/// <param name="Accepted">Facts that the service has, each counted once.</param>
/// <param name="Requests">Requests sent, without those that were repeated for a broken connection.</param>
/// <param name="Rounds">How often what was refused as unknown was posted again.</param>
/// <param name="Refused">Facts that it refused for good, with its answer.</param>
public sealed record PostReport(int Accepted, int Requests, int Rounds, IReadOnlyList<(PlantFact Fact, FactAnswer Answer)> Refused);

/// <summary>Posts a plant's facts as its terminals would: each with the key of its station or role and that terminal's clock.</summary>
/// <param name="client">Speaks with the service.</param>
/// <param name="keyOf">The access key of a sender.</param>
public sealed class HistoryPoster(ServiceClient client, Func<string, string> keyOf)
{
    private readonly ConcurrentBag<(PlantFact Fact, FactAnswer Answer)> _unknown = [];
    private readonly ConcurrentBag<(PlantFact Fact, FactAnswer Answer)> _refused = [];
    private readonly ConcurrentDictionary<Guid, bool> _accepted = new();
    private static readonly FactAnswer NotSent = new(0, "not-sent", "What it is about was not accepted.");

    private int _requests;

    /// <summary>Posts all facts, and those refused as unknown again, until all are accepted or a round brings nothing.</summary>
    public async Task<PostReport> PostAsync(IReadOnlyList<PlantFact> facts, PostOptions options, CancellationToken cancellation = default)
    {
        ArgumentNullException.ThrowIfNull(facts);
        ArgumentNullException.ThrowIfNull(options);
        var pending = Repeated(facts, options);
        var rounds = 0;
        while (pending.Count > 0)
        {
            var before = _accepted.Count;
            await PostOnceAsync(pending, options, cancellation).ConfigureAwait(false);
            var waiting = _unknown.Where(u => !_accepted.ContainsKey(u.Fact.Id)).ToList();
            _unknown.Clear();
            var answered = waiting.Concat(_refused).Select(u => u.Fact.Id).ToHashSet();
            waiting.AddRange(pending.Where(f => !_accepted.ContainsKey(f.Id) && answered.Add(f.Id)).Select(f => (f, NotSent)));
            if (waiting.Count > 0 && _accepted.Count == before)
            {
                waiting.ForEach(_refused.Add);
                break;
            }

            var left = waiting.Select(w => w.Fact.Id).ToHashSet();
            pending = [.. pending.Where(f => left.Contains(f.Id)).DistinctBy(f => f.Id)];
            rounds += pending.Count > 0 ? 1 : 0;
        }

        return new(_accepted.Count, _requests, rounds, [.. _refused.DistinctBy(r => r.Fact.Id)]);
    }

    private static List<PlantFact> Repeated(IReadOnlyList<PlantFact> facts, PostOptions options)
    {
        var random = new SplitMix((options.ShuffleSeed ?? 0) + 1);
        var result = new List<PlantFact>(facts);
        foreach (var fact in facts)
        {
            if (random.Chance(options.DuplicatesInTenThousand))
            {
                result.Add(fact);
            }
        }

        return result;
    }

    private async Task PostOnceAsync(List<PlantFact> pending, PostOptions options, CancellationToken cancellation)
    {
        if (options.ShuffleSeed is { } seed)
        {
            await PostShuffledAsync([.. pending.Where(IsDue)], options, seed, cancellation).ConfigureAwait(false);
            return;
        }

        // Definitions first and by one connection: nobody can report work on an item that nobody has defined.
        var definitions = pending.Where(f => f.Sender == Senders.Engineer).ToList();
        foreach (var batch in definitions.GroupBy(f => f.ClockError).SelectMany(g => g.Chunk(options.Batch)))
        {
            await PostChunkAsync(batch, cancellation).ConfigureAwait(false);
        }

        var rest = new LinkedList<PlantFact>(pending.Where(f => f.Sender != Senders.Engineer));
        while (rest.Count > 0)
        {
            var lanes = NextLanes(rest, options);
            if (lanes.Count == 0)
            {
                // What is left waits for what was refused.
                return;
            }

            await PostLanesAsync(lanes, options, cancellation).ConfigureAwait(false);
        }
    }

    private bool IsDue(PlantFact fact) => fact.After is not { } first || _accepted.ContainsKey(first);

    // Sorts a window of facts by sender. A unit belongs to one lane at a time, so its facts stay in order; what a person decides
    // comes after what it is about.
    private List<List<PlantFact>> NextLanes(LinkedList<PlantFact> rest, PostOptions options)
    {
        var laneOfUnit = new Dictionary<string, (string, TimeSpan, int)>(StringComparer.Ordinal);
        var lanes = new Dictionary<(string, TimeSpan, int), List<PlantFact>>();
        var placed = new Dictionary<Guid, (string, TimeSpan, int)>();
        var split = Math.Max(1, options.Connections / 4);
        var seen = 0;
        for (var node = rest.First; node is not null && seen < options.Window; seen++)
        {
            var (current, fact) = (node, node.Value);
            node = node.Next;
            var lane = (fact.Sender, fact.ClockError, Part(fact, split));
            var isEarly = !IsDue(fact) && !(placed.TryGetValue(fact.After!.Value, out var before) && before == lane);
            if (fact.Unit is { } unit && ((!laneOfUnit.TryAdd(unit, lane) && laneOfUnit[unit] != lane) || isEarly))
            {
                // This one waits for another sender; what comes after it on the same unit must wait as well.
                laneOfUnit[unit] = default;
                continue;
            }

            if (isEarly)
            {
                continue;
            }

            if (!lanes.TryGetValue(lane, out var list))
            {
                lanes[lane] = list = [];
            }

            list.Add(fact);
            placed[fact.Id] = lane;
            rest.Remove(current);
        }

        return [.. lanes.Values];
    }

    private static int Part(PlantFact fact, int parts)
    {
        var sum = 0;
        foreach (var c in fact.Unit ?? string.Empty)
        {
            sum = ((sum * 31) + c) & 0xFFFF;
        }

        return sum % parts;
    }

    private async Task PostLanesAsync(List<List<PlantFact>> lanes, PostOptions options, CancellationToken cancellation) =>
        await Parallel.ForEachAsync(lanes, new ParallelOptions { MaxDegreeOfParallelism = options.Connections, CancellationToken = cancellation }, async (lane, stop) =>
        {
            foreach (var chunk in lane.Chunk(options.Batch))
            {
                await PostChunkAsync(chunk, stop).ConfigureAwait(false);
            }
        }).ConfigureAwait(false);

    private async Task PostShuffledAsync(List<PlantFact> pending, PostOptions options, ulong seed, CancellationToken cancellation)
    {
        var random = new SplitMix(seed);
        var shuffled = pending.ToArray();
        for (var i = shuffled.Length - 1; i > 0; i--)
        {
            var j = random.Int(0, i);
            (shuffled[i], shuffled[j]) = (shuffled[j], shuffled[i]);
        }

        var chunks = new List<List<PlantFact>>();
        foreach (var group in shuffled.GroupBy(f => (f.Sender, f.ClockError)))
        {
            var list = group.ToList();
            for (var at = 0; at < list.Count;)
            {
                var size = Math.Min(random.Int(1, options.Batch), list.Count - at);
                chunks.Add(list.GetRange(at, size));
                at += size;
            }
        }

        for (var i = chunks.Count - 1; i > 0; i--)
        {
            var j = random.Int(0, i);
            (chunks[i], chunks[j]) = (chunks[j], chunks[i]);
        }

        await PostLanesAsync(chunks, options, cancellation).ConfigureAwait(false);
    }

    private async Task PostChunkAsync(PlantFact[] chunk, CancellationToken cancellation)
    {
        Interlocked.Increment(ref _requests);
        var (key, error) = (keyOf(chunk[0].Sender), chunk[0].ClockError);
        var answers = chunk.Length == 1
            ? [await client.PostAsync(chunk[0].Json, key, error, cancellation).ConfigureAwait(false)]
            : await client.PostBatchAsync([.. chunk.Select(f => f.Json)], key, error, cancellation).ConfigureAwait(false);
        for (var i = 0; i < chunk.Length; i++)
        {
            if (answers[i].IsAccepted)
            {
                _accepted[chunk[i].Id] = true;
            }
            else
            {
                (answers[i].IsUnknown ? _unknown : _refused).Add((chunk[i], answers[i]));
            }
        }
    }
}
