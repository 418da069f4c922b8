using System.Text;

namespace Traceability.Benchmarks.Growth;

/// <summary>What a plant's facts would do on a number of shards.</summary>
/// <param name="Shards">How many shards.</param>
/// <param name="UnitFacts">Facts about units.</param>
/// <param name="OneShard">Of these, those whose commit touches one shard only.</param>
/// <param name="ShardsTouched">Shards touched by the commits of all unit facts together.</param>
/// <param name="Installs">Components named by facts of another unit.</param>
/// <param name="CrossingInstalls">Of these, those whose component lies on another shard than the unit.</param>
/// <param name="ReferenceFacts">Facts about lots, tools, people, items, places and routings: one write on every shard.</param>
/// <param name="Fullest">Unit facts on the fullest shard.</param>
/// <param name="GroupMax">Of 256 facts that wait at once, how many wait for the busiest shard's committer, on average.</param>
/// <param name="Lots">Lots that were used.</param>
/// <param name="Scope">The scopes of all lots together.</param>
internal sealed record ShardFigures(
    int Shards,
    int UnitFacts,
    int OneShard,
    int ShardsTouched,
    int Installs,
    int CrossingInstalls,
    int ReferenceFacts,
    int Fullest,
    double GroupMax,
    int Lots,
    ScopeFigures Scope);

/// <summary>What the scopes of all lots cost together, or of the largest.</summary>
/// <param name="Members">Units found.</param>
/// <param name="Rounds">Times that the shards are asked: once for the lot, then once for each level that has members.</param>
/// <param name="RoundsMax">The most rounds of one lot.</param>
/// <param name="AskedByParent">Shards asked, with installations kept beside the parent: all, in each round.</param>
/// <param name="AskedByComponent">Shards asked, with a second row beside the component: all for the lot, then only those of the members of the level.</param>
/// <param name="Rows">Rows moved to the asker: uses, installations and the members' own.</param>
internal sealed record ScopeFigures(int Members, int Rounds, int RoundsMax, int AskedByParent, int AskedByComponent, int Rows);

/// <summary>Places units on shards by a hash of their keys and counts what crosses.</summary>
/// <remarks>
/// Pure: the same facts give the same figures on any machine. A commit touches the shard of its unit; those of the component units
/// that it names, whose streams are locked and whose versions are checked; and those of the units that name its unit as a
/// component, which are queued to be judged again.
/// </remarks>
internal static class ShardSimulation
{
    private const int Waiting = 256;

    /// <summary>Counts for a number of shards.</summary>
    public static ShardFigures Run(IReadOnlyList<ShardedFact> facts, int shards)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(shards, 1);
        var parents = new Dictionary<string, HashSet<string>>(StringComparer.Ordinal);
        var onShard = new int[shards];
        var (one, touchedAll, installs, crossing, references) = (0, 0, 0, 0, 0);
        foreach (var fact in facts)
        {
            if (fact.Unit is not { } unit)
            {
                references++;
                continue;
            }

            var home = ShardOf(unit, shards);
            onShard[home]++;
            var touched = new HashSet<int> { home };
            if (parents.TryGetValue(unit, out var inside))
            {
                touched.UnionWith(inside.Select(p => ShardOf(p, shards)));
            }

            foreach (var component in fact.Components)
            {
                var other = ShardOf(component, shards);
                touched.Add(other);
                if (!fact.IsRemoval)
                {
                    installs++;
                    crossing += other == home ? 0 : 1;
                }

                Add(parents, component, unit);
            }

            one += touched.Count == 1 ? 1 : 0;
            touchedAll += touched.Count;
        }

        var lots = Uses(facts);
        return new(
            shards, onShard.Sum(), one, touchedAll, installs, crossing, references, onShard.Max(), BusiestOfWaiting(facts, shards), lots.Count, Scope(lots, parents, shards));
    }

    /// <summary>The shard of a unit: by a hash that is the same on every machine and runtime.</summary>
    /// <remarks>FNV-1a, 64 bit, over UTF-8, then the finishing steps of SplitMix64, since the low bits of the first are weak.</remarks>
    public static int ShardOf(string unit, int shards)
    {
        var hash = 14695981039346656037UL;
        foreach (var b in Encoding.UTF8.GetBytes(unit))
        {
            hash = (hash ^ b) * 1099511628211UL;
        }

        hash = (hash ^ (hash >> 30)) * 0xBF58476D1CE4E5B9UL;
        hash = (hash ^ (hash >> 27)) * 0x94D049BB133111EBUL;
        return (int)((hash ^ (hash >> 31)) % (ulong)shards);
    }

    // In the order in which they were sent: those that wait at once are about the same few units.
    private static double BusiestOfWaiting(IReadOnlyList<ShardedFact> facts, int shards) =>
        facts.Where(f => f.Unit is not null).Chunk(Waiting).Where(c => c.Length == Waiting)
            .Select(c => c.CountBy(f => ShardOf(f.Unit!, shards)).Max(s => s.Value)).DefaultIfEmpty().Average();

    private static SortedDictionary<string, List<string>> Uses(IReadOnlyList<ShardedFact> facts)
    {
        var lots = new SortedDictionary<string, List<string>>(StringComparer.Ordinal);
        foreach (var fact in facts.Where(f => f.Unit is not null))
        {
            foreach (var lot in fact.Lots)
            {
                if (!lots.TryGetValue(lot, out var users))
                {
                    lots[lot] = users = [];
                }

                users.Add(fact.Unit!);
            }
        }

        return lots;
    }

    private static ScopeFigures Scope(SortedDictionary<string, List<string>> lots, Dictionary<string, HashSet<string>> parents, int shards)
    {
        var sum = new ScopeFigures(0, 0, 0, 0, 0, 0);
        foreach (var users in lots.Values)
        {
            var members = users.ToHashSet(StringComparer.Ordinal);
            var level = members.ToList();
            var (rounds, byComponent, rows) = (1, shards, users.Count);
            while (level.Count > 0)
            {
                rounds++;
                byComponent += level.Select(u => ShardOf(u, shards)).Distinct().Count();
                var found = level.SelectMany(u => parents.TryGetValue(u, out var inside) ? inside.AsEnumerable() : []).ToList();
                rows += found.Count;
                level = [.. found.Where(members.Add)];
            }

            sum = new(
                sum.Members + members.Count,
                sum.Rounds + rounds,
                Math.Max(sum.RoundsMax, rounds),
                sum.AskedByParent + (rounds * shards),
                sum.AskedByComponent + byComponent,
                sum.Rows + rows + members.Count);
        }

        return sum;
    }

    private static void Add(Dictionary<string, HashSet<string>> parents, string component, string parent)
    {
        if (!parents.TryGetValue(component, out var inside))
        {
            parents[component] = inside = new(StringComparer.Ordinal);
        }

        inside.Add(parent);
    }
}
