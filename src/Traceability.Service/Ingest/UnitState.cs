using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Service.Storage;

namespace Traceability.Service.Ingest;

/// <summary>A unit as the database holds it: its facts, and which rows are stored of it.</summary>
/// <param name="Unit">The facts.</param>
/// <param name="Judgement">How many judgements were stored; the next writer must find this number.</param>
/// <param name="Rows">The identities of the stored rows, by <see cref="UnitTable"/>.</param>
/// <param name="Dependencies">The stored dependencies; changed only by <see cref="UnitDraft.AsStored"/>.</param>
/// <param name="KnownIn">The <see cref="ReferenceCache.Snapshot.Generation"/> of the references that know all that its facts name; 0 for none.</param>
internal sealed record UnitState(ProductUnit Unit, long Judgement, ImmutableArray<long[]> Rows, HashSet<string> Dependencies, int KnownIn = 0)
{
    /// <summary>Whether its facts name components.</summary>
    public bool HasComponents => Dependencies.Any(d => d.StartsWith(StreamNames.UnitPrefix, StringComparison.Ordinal));

    /// <summary>Whether its facts name a batch that it was taken out of.</summary>
    public bool NamesBatch => Dependencies.Any(d => d.StartsWith(StreamNames.BatchPrefix, StringComparison.Ordinal));

    /// <summary>The unit's stream.</summary>
    public string Stream => StreamNames.Of(Unit.Key);
}

/// <summary>A unit while a group of facts is put together.</summary>
internal sealed class UnitDraft(UnitState stored)
{
    [ThreadStatic]
    private static HashSet<string>? _names;

    private List<string>? _added;

    /// <summary>As the database holds it.</summary>
    public UnitState Stored { get; } = stored;

    /// <summary>The unit's name: item/serial.</summary>
    public string Name { get; } = stored.Unit.Key.ToString();

    /// <summary>With the facts of the group.</summary>
    public ProductUnit Unit { get; private set; } = stored.Unit;

    /// <summary>The rows of the last judgement; null while it isn't judged.</summary>
    public UnitRows? Rows { get; private set; }

    /// <summary>The streams that its judgement looks at and that are watched for changes, as far as the group adds them.</summary>
    public IReadOnlyList<string> NewDependencies => _added ?? [];

    /// <summary>Whether its facts name a batch that it was taken out of.</summary>
    public bool NamesBatch => Stored.NamesBatch || NewDependencies.Any(d => d.StartsWith(StreamNames.BatchPrefix, StringComparison.Ordinal));

    /// <summary>The units that its facts name as components.</summary>
    public IEnumerable<UnitKey> Components => Stored.Dependencies.Concat(NewDependencies)
        .Where(d => d.StartsWith(StreamNames.UnitPrefix, StringComparison.Ordinal))
        .Select(d => UnitKey.Parse(d[StreamNames.UnitPrefix.Length..]));

    /// <summary>Adds a fact.</summary>
    public void Add(RecordedFact fact)
    {
        Unit = Unit.With(fact);
        var names = _names ??= new(StringComparer.Ordinal);
        names.Clear();
        Dependencies.Add(names, fact.Fact);
        names.RemoveWhere(static n => !IsWatched(n));
        AddSupervisor(names, fact.Fact);
        foreach (var name in names)
        {
            if (!Stored.Dependencies.Contains(name) && _added?.Contains(name, StringComparer.Ordinal) != true)
            {
                (_added ??= []).Add(name);
            }
        }
    }

    /// <summary>Judges the unit and gives the findings that were not there before.</summary>
    public ImmutableArray<Finding> Judge(IReferences references)
    {
        var before = Rows is null ? Stored.Rows[(int)UnitTable.Finding] : Rows.Ids(UnitTable.Finding);
        Take(Domain.Judging.Judge.Unit(Unit, references));
        return [.. Rows!.Findings.Where(r => !before.AsSpan().Contains(r.Id)).Select(r => r.Value)];
    }

    /// <summary>Takes a judgement as the unit's last one.</summary>
    public void Take(UnitJudgement judgement) => Rows = UnitRows.Of(judgement);

    /// <summary>As the database will hold it once the group is stored. <see cref="Stored"/> is not to be used after it.</summary>
    /// <param name="knownIn">The generation of the references that the unit was judged with.</param>
    public UnitState AsStored(int knownIn)
    {
        Stored.Dependencies.UnionWith(NewDependencies);
        return new(Unit, Stored.Judgement + 1, Rows?.Ids() ?? Stored.Rows, Stored.Dependencies, knownIn);
    }

    /// <summary>The same while it is still being stored: whoever stores it goes on with this draft.</summary>
    public UnitState Next() =>
        new(Unit, Stored.Judgement + 1, Rows?.Ids() ?? Stored.Rows, Stored.Dependencies.Concat(NewDependencies).ToHashSet(StringComparer.Ordinal));

    /// <summary>The streams that are watched, of those that the unit's facts bring in.</summary>
    public static HashSet<string> Watched(ProductUnit unit)
    {
        HashSet<string> names = [.. Dependencies.Of(unit).Where(IsWatched)];
        foreach (var recorded in unit.Facts)
        {
            AddSupervisor(names, recorded.Fact);
        }

        return names;
    }

    // Items, routings, stations, sites and defects change too rarely to be worth a row for each unit that looks at them; lots
    // are found by the unit's usages, people by its step results, tools that its batch was worked on with by its uses of tools. Who watched over a step is in no such row.
    private static void AddSupervisor(HashSet<string> names, Fact fact)
    {
        if (Dependencies.SupervisorOf(fact) is { } supervisor)
        {
            names.Add(StreamNames.Of(supervisor));
        }
    }

    private static bool IsWatched(string stream) =>
        stream.StartsWith(StreamNames.UnitPrefix, StringComparison.Ordinal) || stream.StartsWith(StreamNames.ToolPrefix, StringComparison.Ordinal)
        || stream.StartsWith(StreamNames.BatchPrefix, StringComparison.Ordinal);
}

/// <summary>The units that were used last, so that a fact about one of them needs no reading. For one thread.</summary>
internal sealed class UnitCache(int most)
{
    private readonly Dictionary<string, LinkedListNode<UnitState>> _nodes = new(StringComparer.Ordinal);
    private readonly LinkedList<UnitState> _byUse = new();

    public UnitState? Find(string stream)
    {
        if (!_nodes.TryGetValue(stream, out var node))
        {
            return null;
        }

        _byUse.Remove(node);
        _byUse.AddFirst(node);
        return node.Value;
    }

    public void Put(UnitState state)
    {
        Remove(state.Stream);
        _nodes[state.Stream] = _byUse.AddFirst(state);
        if (_nodes.Count > most)
        {
            Remove(_byUse.Last!.Value.Stream);
        }
    }

    public void Remove(string stream)
    {
        if (_nodes.Remove(stream, out var node))
        {
            _byUse.Remove(node);
        }
    }
}
