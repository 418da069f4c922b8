namespace Traceability.Domain.Scope;

/// <summary>The reach of a suspect.</summary>
public sealed class ScopeResult
{
    private readonly InstallationBook _book;

    internal ScopeResult(SuspectFactor factor, LotPresence presence, bool isLotNamed, bool isNamed, ImmutableArray<ScopeMember> members, InstallationBook book)
    {
        Factor = factor;
        Presence = presence;
        IsLotNamed = isLotNamed;
        IsNamed = isNamed;
        Members = members;
        _book = book;
    }

    /// <summary>The suspect.</summary>
    public SuspectFactor Factor { get; }

    /// <summary>When and where it could have been used.</summary>
    public LotPresence Presence { get; }

    /// <summary>Whether some record names the suspect's lot.</summary>
    public bool IsLotNamed { get; }

    /// <summary>Whether some record names the suspect.</summary>
    public bool IsNamed { get; }

    /// <summary>The units, ordered by name (ordinal).</summary>
    public ImmutableArray<ScopeMember> Members { get; }

    /// <summary>What clears a unit.</summary>
    public ClearingRule Clearing => new(Factor, Presence);

    /// <summary>Finds where each member is now: the outermost unit that it is inside of, and where that one stands.</summary>
    /// <returns>One for each of <see cref="Members"/>, in their order.</returns>
    public async ValueTask<ImmutableArray<Whereabouts>> LocateAsync(IScopeSource source, CancellationToken cancellation)
    {
        var outermost = new string[Members.Length];
        List<int> climbing = [.. Enumerable.Range(0, Members.Length)];
        foreach (var i in climbing)
        {
            outermost[i] = Members[i].Unit;
        }

        // Records that run in a circle have no outermost unit: after as many steps as there are installations, stay there.
        for (var depth = 0; climbing.Count > 0 && depth <= _book.Count; depth++)
        {
            if (_book.Missing(climbing.Select(i => outermost[i])) is { Count: > 0 } missing)
            {
                _book.Add((await source.LevelAsync(missing, [], cancellation)).Installations);
            }

            var next = new List<int>();
            foreach (var i in climbing)
            {
                if (_book.ParentNow(outermost[i]) is { } parent && !string.Equals(parent, Members[i].Unit, StringComparison.Ordinal))
                {
                    outermost[i] = parent;
                    next.Add(i);
                }
            }

            climbing = next;
        }

        var rows = (await source.UnitsAsync([.. outermost.Distinct(StringComparer.Ordinal)], cancellation))
            .ToDictionary(u => u.Unit, StringComparer.Ordinal);
        return
        [
            .. outermost.Select((unit, i) => new Whereabouts(
                string.Equals(unit, Members[i].Unit, StringComparison.Ordinal) ? null : unit,
                rows.TryGetValue(unit, out var row) ? row : null)),
        ];
    }
}

/// <summary>Where a unit is now.</summary>
/// <param name="Inside">The outermost unit that it is inside of; null if it is in none.</param>
/// <param name="Stands">Where that one, or the unit itself, stands; null if nothing is known of it.</param>
public sealed record Whereabouts(string? Inside, UnitRow? Stands);
