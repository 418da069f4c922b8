using Npgsql;
using Traceability.Domain.Primitives;
using Traceability.Domain.SharedFactors;

namespace Traceability.Service.Features.SharedFactors;

/// <summary>Reads what units and everything that is or was inside them have, from the rows that judging keeps by unit.</summary>
/// <remarks>Each query is pinned to the units given: a planner that over-estimates would scan whole tables.</remarks>
internal sealed class FactorRows(NpgsqlConnection connection, IReadOnlySet<FactorKind> kinds)
{
    private readonly List<HashSet<FactorKey>> _has = [];
    private readonly List<HashSet<(FactorKind, string)>> _open = [];

    // Which of the asked units a unit is in or is.
    private readonly Dictionary<string, List<int>> _tops = new(StringComparer.Ordinal);

    // What units of an item bring, so that a missing serial of that item leaves all of it open.
    private readonly Dictionary<string, HashSet<(FactorKind, string)>> _broughtBy = new(StringComparer.Ordinal);
    private readonly Dictionary<string, HashSet<string>> _itemsWithin = new(StringComparer.Ordinal);
    private readonly List<(int Top, string Item)> _missingSerials = [];
    private readonly HashSet<int> _unreadable = [];

    /// <summary>Reads.</summary>
    public async Task<List<UnitFactors>> ReadAsync(ComparedUnits compared, CancellationToken cancellation)
    {
        string[] asked = [.. compared.Failed, .. compared.Others];
        for (var i = 0; i < asked.Length; i++)
        {
            _has.Add([]);
            _open.Add([]);
            _tops[asked[i]] = [i];
        }

        await InsideAsync(asked, cancellation);
        string[] units = [.. _tops.Keys];
        await UnitsAsync(units, cancellation);
        await StepsAsync(units, cancellation);
        await ToolsAsync(units, cancellation);
        await UsagesAsync(units, cancellation);
        await GapsAsync(units, cancellation);
        OpenWhatIsMissing();
        return [.. asked.Select((unit, i) => new UnitFactors(unit, i < compared.Failed.Length, _has[i], _open[i]))];
    }

    private static string ItemOf(string unit) => UnitKey.ItemOf(unit).ToString();

    private async Task InsideAsync(string[] level, CancellationToken cancellation)
    {
        while (level.Length > 0)
        {
            List<string> next = [];
            await ForEachAsync(
                level,
                "select parent as unit, component from traceability.installation where parent = k.unit",
                "x.component",
                r =>
                {
                    var parent = level[r.GetInt32(0) - 1];
                    var component = r.GetString(1);
                    Within(ItemOf(parent)).Add(ItemOf(component));
                    if (Add(component, _tops[parent]))
                    {
                        next.Add(component);
                    }
                },
                cancellation);
            level = [.. next.Distinct(StringComparer.Ordinal)];
        }
    }

    // Whether anything was new: a unit that is inside itself by a wrong record ends the descent.
    private bool Add(string component, List<int> tops)
    {
        if (!_tops.TryGetValue(component, out var known))
        {
            _tops.Add(component, [.. tops]);
            return true;
        }

        var before = known.Count;
        known.AddRange(tops.Except(known).ToArray());
        return known.Count > before;
    }

    private Task UnitsAsync(string[] units, CancellationToken cancellation) => ForEachAsync(
        units,
        "select item, lot, revision, has_unreadable from traceability.unit where unit = k.unit",
        "x.item, x.lot, x.revision, x.has_unreadable",
        r =>
        {
            var unit = units[r.GetInt32(0) - 1];
            var item = r.GetString(1);
            if (!r.IsDBNull(2))
            {
                Has(unit, new(FactorKind.Lot, $"{item}/{r.GetString(2)}", item));
            }

            if (!r.IsDBNull(3))
            {
                Has(unit, new(FactorKind.Revision, $"{item}/{r.GetString(3)}", item));
            }

            if (r.GetBoolean(4))
            {
                _unreadable.UnionWith(_tops[unit]);
            }
        },
        cancellation);

    private Task StepsAsync(string[] units, CancellationToken cancellation) => ForEachAsync(
        units,
        "select item, step, station, person from traceability.step_result where unit = k.unit",
        "x.item, x.step, x.station, x.person",
        r =>
        {
            var unit = units[r.GetInt32(0) - 1];
            var where = $"{r.GetString(1)}/{r.GetString(2)}";
            Named(FactorKind.Station, r.GetString(3));
            Named(FactorKind.Person, r.GetString(4));

            void Named(FactorKind kind, string name)
            {
                if (name.Length > 0)
                {
                    Has(unit, new(kind, name, where));
                }
                else
                {
                    Open(unit, (kind, where));
                }
            }
        },
        cancellation);

    private Task ToolsAsync(string[] units, CancellationToken cancellation) => ForEachAsync(
        units,
        "select step, tool from traceability.tool_usage where unit = k.unit",
        "x.step, x.tool",
        r =>
        {
            var unit = units[r.GetInt32(0) - 1];
            Has(unit, new(FactorKind.Tool, r.GetString(2), $"{ItemOf(unit)}/{r.GetString(1)}"));
        },
        cancellation);

    private Task UsagesAsync(string[] units, CancellationToken cancellation) => ForEachAsync(
        units,
        "select item, lot, container, is_one_of from traceability.material_usage where unit = k.unit",
        "x.item, x.lot, x.container, x.is_one_of",
        r =>
        {
            var unit = units[r.GetInt32(0) - 1];
            var item = r.GetString(1);
            if (r.GetBoolean(4))
            {
                Open(unit, (FactorKind.Lot, item));
                Open(unit, (FactorKind.Container, item));
                return;
            }

            var lot = $"{item}/{r.GetString(2)}";
            Has(unit, new(FactorKind.Lot, lot, item));
            if (!r.IsDBNull(3))
            {
                Has(unit, new(FactorKind.Container, $"{lot}/{r.GetString(3)}", item));
            }
        },
        cancellation);

    private Task GapsAsync(string[] units, CancellationToken cancellation) => ForEachAsync(
        units,
        "select item, kind from traceability.trace_gap where unit = k.unit",
        "x.item, x.kind",
        r =>
        {
            var unit = units[r.GetInt32(0) - 1];
            var item = r.GetString(1);
            var kind = r.GetString(2);
            if (kind is "serial")
            {
                _missingSerials.AddRange(_tops[unit].Select(t => (t, item)));
            }
            else
            {
                Open(unit, (FactorKind.Container, item));
            }

            if (kind is not "container")
            {
                Open(unit, (FactorKind.Lot, item));
            }
        },
        cancellation);

    // A unit with a missing serial may have whatever any unit of that item brings; one that can't be read, whatever any has.
    private void OpenWhatIsMissing()
    {
        foreach (var (top, item) in _missingSerials)
        {
            foreach (var within in Closure(item))
            {
                _open[top].UnionWith(_broughtBy.GetValueOrDefault(within) ?? []);
            }
        }

        if (_unreadable.Count > 0)
        {
            var all = _has.SelectMany(h => h).Select(f => (f.Kind, f.Of)).ToHashSet();
            foreach (var top in _unreadable)
            {
                _open[top].UnionWith(all);
            }
        }
    }

    private HashSet<string> Closure(string item)
    {
        HashSet<string> found = new(StringComparer.Ordinal) { item };
        Queue<string> next = new([item]);
        while (next.TryDequeue(out var current))
        {
            foreach (var inner in _itemsWithin.GetValueOrDefault(current) ?? [])
            {
                if (found.Add(inner))
                {
                    next.Enqueue(inner);
                }
            }
        }

        return found;
    }

    private HashSet<string> Within(string item)
    {
        if (!_itemsWithin.TryGetValue(item, out var items))
        {
            _itemsWithin.Add(item, items = new(StringComparer.Ordinal));
        }

        return items;
    }

    private void Has(string unit, FactorKey factor)
    {
        if (!kinds.Contains(factor.Kind))
        {
            return;
        }

        foreach (var top in _tops[unit])
        {
            _has[top].Add(factor);
        }

        var item = ItemOf(unit);
        if (!_broughtBy.TryGetValue(item, out var brought))
        {
            _broughtBy.Add(item, brought = []);
        }

        brought.Add((factor.Kind, factor.Of));
    }

    private void Open(string unit, (FactorKind Kind, string Of) family)
    {
        foreach (var top in _tops[unit])
        {
            _open[top].Add(family);
        }
    }

    private async Task ForEachAsync(string[] units, string rows, string columns, Action<NpgsqlDataReader> take, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand(
            $"select k.n::integer, {columns} from unnest($1) with ordinality k (unit, n) cross join lateral ({rows} offset 0) x", connection)
        {
            Parameters = { new() { Value = units } },
        };
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        while (await reader.ReadAsync(cancellation))
        {
            take(reader);
        }
    }
}
