namespace Traceability.Domain.Scope;

/// <summary>What was looked up of the units' ways into each other, kept for several walks over one source. For one thread.</summary>
/// <param name="source">Where the rows are.</param>
public sealed class Genealogy(IScopeSource source)
{
    private readonly InstallationBook _book = new();
    private readonly Dictionary<string, List<GapRow>> _serialGaps = new(StringComparer.Ordinal);
    private readonly Dictionary<string, UnitRow> _units = new(StringComparer.Ordinal);
    private readonly HashSet<string> _asked = new(StringComparer.Ordinal);

    /// <summary>Where the rows are.</summary>
    public IScopeSource Source => source;

    /// <summary>Finds where each unit is now: the outermost unit that it is inside of, and where that one stands.</summary>
    /// <param name="units">The units, as item/serial.</param>
    /// <param name="cancellation">Stops it.</param>
    /// <returns>One for each of the units, in their order.</returns>
    public async ValueTask<ImmutableArray<Whereabouts>> LocateAsync(IReadOnlyList<string> units, CancellationToken cancellation)
    {
        ArgumentNullException.ThrowIfNull(units);
        string[] outermost = [.. units];
        List<int> climbing = [.. Enumerable.Range(0, outermost.Length)];

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
                if (_book.ParentNow(outermost[i]) is { } parent && !string.Equals(parent, units[i], StringComparison.Ordinal))
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
                string.Equals(unit, units[i], StringComparison.Ordinal) ? null : unit,
                rows.TryGetValue(unit, out var row) ? row : null)),
        ];
    }

    /// <summary>Looks up where these units were and are, and where serials of these items are missing.</summary>
    internal async ValueTask LoadAsync(IEnumerable<string> units, IEnumerable<string> items, CancellationToken cancellation)
    {
        var components = _book.Missing(units);
        string[] unseen = [.. items.Where(item => _serialGaps.TryAdd(item, []))];
        if (components.Count == 0 && unseen.Length == 0)
        {
            return;
        }

        var rows = await source.LevelAsync(components, unseen, cancellation);
        _book.Add(rows.Installations);
        foreach (var gap in rows.SerialGaps)
        {
            _serialGaps[gap.Item].Add(gap);
        }

        // In an order of their own, so that of two equal ways the same one is told every time.
        foreach (var item in unseen)
        {
            _serialGaps[item].Sort(static (a, b) => a.RowId != b.RowId ? a.RowId.CompareTo(b.RowId) : string.CompareOrdinal(a.Unit, b.Unit));
        }
    }

    /// <summary>Looks up where these units stand.</summary>
    internal async ValueTask LoadUnitsAsync(IEnumerable<string> units, CancellationToken cancellation)
    {
        string[] unknown = [.. units.Where(_asked.Add)];
        if (unknown.Length > 0)
        {
            foreach (var unit in await source.UnitsAsync(unknown, cancellation))
            {
                _units[unit.Unit] = unit;
            }
        }
    }

    /// <summary>Where a unit that was looked up was and is.</summary>
    internal IReadOnlyList<InstallationRow> InstallationsOf(string unit) => _book.Of(unit);

    /// <summary>Missing serials for which an item that was looked up would be accepted.</summary>
    internal IReadOnlyList<GapRow> SerialGapsOf(string item) => _serialGaps[item];

    /// <summary>Where a unit that was looked up stands; null if nothing is known of it.</summary>
    internal UnitRow? UnitOf(string unit) => _units.TryGetValue(unit, out var row) ? row : null;
}

/// <summary>Where a unit is now.</summary>
/// <param name="Inside">The outermost unit that it is inside of; null if it is in none.</param>
/// <param name="Stands">Where that one, or the unit itself, stands; null if nothing is known of it.</param>
public sealed record Whereabouts(string? Inside, UnitRow? Stands);
