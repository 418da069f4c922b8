using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;

namespace Traceability.Domain.Narrowing;

/// <summary>Finds which missing facts would clear the most members of a scope.</summary>
/// <remarks>
/// <para>
/// What a fact would clear is found by asking the whole question again, as if that fact named something that nobody suspects: what is
/// no member then would be cleared, through genealogy at any depth, however else it may be reached.
/// </para>
/// <para>
/// A fact can clear only members of which a way that was found leads over it, since it must be on every way. That many is the most that
/// it can clear, so facts are tried in that order, and once as many as are named clear no fewer than the next one could at most, the
/// ranking is certain without trying the rest.
/// </para>
/// </remarks>
public sealed class MissingFactSearch
{
    private readonly Suspect _suspect;
    private readonly WhatIfSource _source;
    private readonly ScopeKnowledge _knowledge;
    private readonly MissingFactLimits _limits;
    private readonly Func<bool> _mayGoOn;
    private readonly ImmutableArray<string> _possible;

    private MissingFactSearch(ScopeFound found, WhatIfSource source, ScopeKnowledge knowledge, MissingFactLimits limits, Func<bool> mayGoOn)
    {
        _suspect = found.Suspect;
        _source = source;
        _knowledge = knowledge;
        _limits = limits;
        _mayGoOn = mayGoOn;
        _possible = [.. found.Members.Where(m => m.Verdict == ScopeVerdict.Possible).Select(m => m.Unit)];
    }

    /// <summary>Runs the search.</summary>
    /// <param name="found">The scope, found through the same source.</param>
    /// <param name="source">Where the rows are; as they are again afterwards.</param>
    /// <param name="knowledge">What the scope was found with.</param>
    /// <param name="limits">Bounds.</param>
    /// <param name="mayGoOn">Asked before every try; false ends the search with what is found by then.</param>
    /// <param name="cancellation">Stops it.</param>
    public static async ValueTask<MissingFacts> RunAsync(
        ScopeFound found, WhatIfSource source, ScopeKnowledge knowledge, MissingFactLimits limits, Func<bool> mayGoOn, CancellationToken cancellation)
    {
        ArgumentNullException.ThrowIfNull(found);
        ArgumentNullException.ThrowIfNull(source);
        var search = new MissingFactSearch(found, source, knowledge, limits, mayGoOn);
        try
        {
            return await search.RunAsync(found, cancellation);
        }
        finally
        {
            source.Settle([]);
        }
    }

    private async ValueTask<MissingFacts> RunAsync(ScopeFound found, CancellationToken cancellation)
    {
        var weights = Weigh(found.Members);
        var keys = weights.OrderByDescending(w => w.Value).ThenBy(w => w.Key.Unit, StringComparer.Ordinal).ThenBy(w => w.Key.RowId).Select(w => w.Key).ToList();
        var isCut = keys.Count > _limits.Candidates;
        var candidates = await CandidatesAsync(weights, keys.Take(_limits.Candidates), cancellation);
        var (facts, tried, isRanked) = await RankAsync(candidates, cancellation);
        return new(
            _possible.Length,
            candidates.Count,
            tried,
            isCut,
            isRanked && !isCut,
            facts,
            await GroupAsync(candidates, cancellation),
            await OrderAsync(found.Members, candidates, cancellation));
    }

    // How many possible members have a way over the row.
    private static Dictionary<EvidenceKey, int> Weigh(ImmutableArray<FoundMember> members)
    {
        var weights = new Dictionary<EvidenceKey, int>();
        var own = new HashSet<EvidenceKey>();
        foreach (var member in members.Where(m => m.Verdict == ScopeVerdict.Possible))
        {
            own.Clear();
            foreach (var way in member.Ways)
            {
                for (var hop = way.Member.Best; hop is not null; hop = hop.Via)
                {
                    if (hop.Evidence.Kind is EvidenceKind.Gap or EvidenceKind.WorkGap || hop.Kind is HopKind.OneOfSeveral or HopKind.ContainerMissing)
                    {
                        own.Add(hop.Evidence);
                    }
                }
            }

            foreach (var key in own)
            {
                weights[key] = weights.GetValueOrDefault(key) + 1;
            }
        }

        return weights;
    }

    private async ValueTask<List<Candidate>> CandidatesAsync(
        Dictionary<EvidenceKey, int> weights, IEnumerable<EvidenceKey> keys, CancellationToken cancellation)
    {
        var units = keys.Select(k => k.Unit).ToHashSet(StringComparer.Ordinal);
        var open = _source.OpenRowsOf(units);
        var evidence = await _source.EvidenceAsync([.. open.Select(o => o.Key)], cancellation);
        string[] named = [.. units.Order(StringComparer.Ordinal)];
        var places = await new Genealogy(_source).LocateAsync(named, cancellation);
        var placeOf = named.Zip(places).ToDictionary(p => p.First, p => p.Second, StringComparer.Ordinal);
        var candidates = new List<Candidate>();
        foreach (var fact in open.GroupBy(o => FactOf(o, evidence[o.Key])))
        {
            var most = fact.Sum(o => weights.GetValueOrDefault(o.Key));
            if (most > 0)
            {
                var shown = fact.OrderByDescending(o => weights.GetValueOrDefault(o.Key)).ThenBy(o => o.Key.Kind).ThenBy(o => o.Key.RowId).First();
                candidates.Add(new(fact.Key, shown.Missing, evidence[shown.Key], placeOf[fact.Key.Unit], [.. fact.Select(o => o.Key)], most));
            }
        }

        candidates.Sort(static (a, b) => Compare(a, a.Most, b, b.Most));
        return candidates;
    }

    private async ValueTask<(ImmutableArray<ClearingFact> Facts, int Tried, bool IsRanked)> RankAsync(List<Candidate> candidates, CancellationToken cancellation)
    {
        var tried = new List<(Candidate Candidate, ImmutableArray<string> Cleared)>();
        var isRanked = true;
        foreach (var candidate in candidates)
        {
            if (tried.Count >= _limits.Facts && tried[_limits.Facts - 1].Cleared.Length >= candidate.Most)
            {
                break;
            }

            if (tried.Count >= _limits.Tries || !_mayGoOn())
            {
                isRanked = false;
                break;
            }

            tried.Add((candidate, Cleared(await AskAsync(candidate.Keys, cancellation))));
            tried.Sort(static (a, b) => Compare(a.Candidate, a.Cleared.Length, b.Candidate, b.Cleared.Length));
        }

        return ([.. tried.Where(t => !t.Cleared.IsEmpty).Take(_limits.Facts).Select(t => t.Candidate.With(t.Cleared))], tried.Count, isRanked);
    }

    private async ValueTask<ImmutableArray<ClearingGroup>> GroupAsync(List<Candidate> candidates, CancellationToken cancellation)
    {
        var groups = candidates
            .GroupBy(c => (Item: UnitKey.ItemOf(c.Fact.Unit).ToString(), c.Fact.Step, c.Fact.What, c.Missing, c.Whereabouts.Stands?.Place))
            .Where(g => g.Skip(1).Any())
            .OrderByDescending(g => g.Sum(c => c.Most)).ThenBy(g => Distance(g.Key.Place)).ThenBy(g => g.First().Fact.Unit, StringComparer.Ordinal)
            .Take(_limits.Groups).ToList();
        var found = new List<ClearingGroup>();
        foreach (var group in groups)
        {
            if (!_mayGoOn())
            {
                break;
            }

            var cleared = Cleared(await AskAsync(group.SelectMany(c => c.Keys), cancellation));
            if (!cleared.IsEmpty)
            {
                found.Add(new(
                    group.Key.Item, group.Key.Step, group.Key.What, group.Key.Missing, group.Key.Place, [.. group.Select(c => c.Fact).OrderBy(f => f.Unit, StringComparer.Ordinal)], cleared));
            }
        }

        return [.. found.OrderByDescending(g => g.Cleared.Length).ThenBy(g => Distance(g.Place))];
    }

    private async ValueTask<ImmutableArray<ClearingStep>> OrderAsync(
        ImmutableArray<FoundMember> members, List<Candidate> candidates, CancellationToken cancellation)
    {
        var left = candidates.ToList();
        var seen = candidates.Select(c => c.Fact).ToHashSet();
        var keys = candidates.SelectMany(c => c.Keys).ToHashSet();
        var settled = new HashSet<EvidenceKey>();
        var steps = ImmutableArray.CreateBuilder<ClearingStep>();
        while (steps.Count < _limits.Steps && _mayGoOn())
        {
            // Where one way is gone another may be left, which hangs on facts that no way led over before.
            var weights = Weigh(members);
            EvidenceKey[] further = [.. weights.Keys.Where(keys.Add).Take(_limits.Candidates)];
            if (further.Length > 0)
            {
                left.AddRange((await CandidatesAsync(weights, further, cancellation)).Where(c => seen.Add(c.Fact)));
            }

            if (left.Count == 0)
            {
                break;
            }

            var next = left.Select(c => (Candidate: c, Weight: c.Keys.Sum(weights.GetValueOrDefault)))
                .Aggregate((a, b) => Compare(b.Candidate, b.Weight, a.Candidate, a.Weight) < 0 ? b : a);
            if (next.Weight == 0)
            {
                break;
            }

            left.Remove(next.Candidate);
            settled.UnionWith(next.Candidate.Keys);
            var before = members.Select(m => m.Unit).ToHashSet(StringComparer.Ordinal);
            members = (await AskAsync(settled, cancellation)).Members;
            before.ExceptWith(members.Select(m => m.Unit));
            steps.Add(new(next.Candidate.With([.. before.Order(StringComparer.Ordinal)]), Cleared(members).Length));
        }

        return steps.DrainToImmutable();
    }

    private async ValueTask<ScopeFound> AskAsync(IEnumerable<EvidenceKey> settled, CancellationToken cancellation)
    {
        _source.Settle(settled);
        return await ScopeSearch.RunAsync(_suspect, _source, _knowledge, cancellation);
    }

    private ImmutableArray<string> Cleared(ScopeFound found) => Cleared(found.Members);

    private ImmutableArray<string> Cleared(ImmutableArray<FoundMember> members)
    {
        var left = members.Select(m => m.Unit).ToHashSet(StringComparer.Ordinal);
        return [.. _possible.Where(u => !left.Contains(u))];
    }

    private static FactKey FactOf(OpenRow open, EvidenceRow row) => new(open.Key.Unit, row.Record, row.Step, row.What)
    {
        Of = open.Missing is FactMissing.Tool or FactMissing.Work or FactMissing.Value or FactMissing.Interval ? open.Missing : null,
    };

    // Most first; of equal ones those in reach; then in an order of their own.
    private static int Compare(Candidate a, int ofA, Candidate b, int ofB)
    {
        var order = ofB.CompareTo(ofA);
        order = order != 0 ? order : Distance(a.Whereabouts.Stands?.Place).CompareTo(Distance(b.Whereabouts.Stands?.Place));
        order = order != 0 ? order : string.CompareOrdinal(a.Fact.Unit, b.Fact.Unit);
        order = order != 0 ? order : a.Fact.Record.CompareTo(b.Fact.Record);
        order = order != 0 ? order : string.CompareOrdinal(a.Fact.Step, b.Fact.Step);
        order = order != 0 ? order : a.Missing.CompareTo(b.Missing);
        return order != 0 ? order : string.CompareOrdinal(a.Fact.What, b.Fact.What);
    }

    // What is here can be looked at; what is shipped must be asked for; what is scrapped may be gone.
    private static int Distance(Place? place) => place switch
    {
        Place.InProcess or Place.OnHold or Place.InStock or Place.Returned => 0,
        null => 1,
        Place.Shipped => 2,
        _ => 3,
    };

    // A missing fact, the rows that wait for it, and the most members that it can clear.
    private sealed record Candidate(
        FactKey Fact, FactMissing Missing, EvidenceRow Evidence, Whereabouts Whereabouts, ImmutableArray<EvidenceKey> Keys, int Most)
    {
        public ClearingFact With(ImmutableArray<string> cleared) => new(Fact, Missing, Evidence, Whereabouts, cleared);
    }
}
