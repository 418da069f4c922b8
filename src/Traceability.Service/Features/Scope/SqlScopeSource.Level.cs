using Npgsql;
using Traceability.Domain.Scope;
using InstallationColumns = Traceability.Service.Ingest.InstallationColumns;

namespace Traceability.Service.Features.Scope;

/// <content>Rows that lead from units to those around them.</content>
internal sealed partial class SqlScopeSource
{
    // Where those of few units stand that aren't inside another one: of the others it will hardly be asked.
    private readonly Dictionary<string, UnitRow?> _outermost = new(StringComparer.Ordinal);
    private readonly HashSet<string> _inside = new(StringComparer.Ordinal);

    /// <inheritdoc />
    public async ValueTask LevelAsync(
        IReadOnlyCollection<string> components, IReadOnlyCollection<string> items, ILevelRows into, CancellationToken cancellation)
    {
        if (_ways is { } ways)
        {
            ways.Give(components, items, into);
            components = [.. components.Where(c => !ways.Components.Contains(c))];
            items = [.. items.Where(i => !ways.Items.Contains(i))];
        }

        if (IsShared(components.Count))
        {
            await ShareAsync(components, into, cancellation);
            components = [];
        }

        if (components.Count + items.Count > 0)
        {
            await AskLevelAsync(components, items, into, cancellation);
        }
    }

    // What the evidence of a large level says isn't asked for with it: hardly any of it will be on the page that is asked for.
    private async ValueTask AskLevelAsync(
        IReadOnlyCollection<string> components, IReadOnlyCollection<string> items, ILevelRows into, CancellationToken cancellation)
    {
        var areFew = components.Count <= FewUnits;
        await using var batch = new NpgsqlBatch(connection);
        batch.BatchCommands.Add(BatchCommand(areFew ? LevelSql.InstallationsSaying : LevelSql.Installations, [Texts(components)]));
        batch.BatchCommands.Add(BatchCommand(LevelSql.SerialGaps, [Texts(items)]));
        if (areFew)
        {
            batch.BatchCommands.Add(BatchCommand(LevelSql.Outermost, [Texts(components)]));
        }

        await using var reader = await batch.ExecuteReaderAsync(cancellation);
        while (await reader.ReadAsync(cancellation))
        {
            into.Add(Installation(reader, areFew));
        }

        await reader.NextResultAsync(cancellation);
        await ReadSerialGapsAsync(reader, into, cancellation);
        if (areFew)
        {
            await reader.NextResultAsync(cancellation);
            await ReadOutermostAsync(reader, components, cancellation);
        }
    }

    /// <inheritdoc />
    public async ValueTask<IReadOnlyCollection<string>> ItemsAsync(IReadOnlyCollection<string> items, ILevelRows into, CancellationToken cancellation)
    {
        var known = new List<string>();
        if (_items is { } ahead)
        {
            known = ahead.Give(items, into);
            items = [.. items.Where(i => !ahead.Items.Contains(i))];
            if (items.Count == 0)
            {
                return known;
            }
        }

        await using var batch = new NpgsqlBatch(connection);
        AddItems(batch, items);
        await using var reader = await batch.ExecuteReaderAsync(cancellation);
        return [.. known, .. await ReadItemsAsync(reader, into, cancellation)];
    }

    /// <inheritdoc />
    public async ValueTask<IReadOnlyList<UnitRow>> UnitsAsync(IReadOnlyCollection<string> units, CancellationToken cancellation)
    {
        UnitRow[] known = [.. units.Select(u => _outermost.GetValueOrDefault(u)).OfType<UnitRow>()];
        string[] others = [.. units.Where(u => !_outermost.ContainsKey(u))];
        return others.Length == 0 ? known : [.. known, .. await ReadAsync(LevelSql.Units, [Texts(others)], Unit, cancellation)];
    }

    private static void AddItems(NpgsqlBatch batch, IReadOnlyCollection<string> items)
    {
        batch.BatchCommands.Add(BatchCommand(LevelSql.ComponentItems, [Texts(items)]));
        batch.BatchCommands.Add(BatchCommand(LevelSql.SerialGaps, [Texts(items)]));
    }

    private static async ValueTask<List<string>> ReadItemsAsync(NpgsqlDataReader reader, ILevelRows into, CancellationToken cancellation)
    {
        var components = await ReadAsync(reader, static r => r.GetString(0), cancellation);
        await reader.NextResultAsync(cancellation);
        await ReadSerialGapsAsync(reader, into, cancellation);
        return components;
    }

    private static void AddWays(NpgsqlBatch batch, WaysAhead ahead)
    {
        batch.BatchCommands.Add(BatchCommand(LevelSql.Ways, [Texts(ahead.Units)]));
        batch.BatchCommands.Add(BatchCommand(LevelSql.Outermost, [Texts(ahead.Units)]));
    }

    private async ValueTask ReadWaysAsync(NpgsqlDataReader reader, WaysAhead ahead, CancellationToken cancellation)
    {
        while (await reader.ReadAsync(cancellation))
        {
            if (reader.GetBoolean(LevelSql.IsMissing))
            {
                ahead.Add(new GapRow(
                    reader.GetString(0),
                    reader.GetInt64(2),
                    ScopeNames.Gap(reader.GetString(7)),
                    reader.GetString(1),
                    NullableText(reader, 8),
                    Time(reader, 3),
                    NullableTime(reader, 4),
                    NullableText(reader, 10)));
            }
            else
            {
                ahead.Add(Installation(reader, isOfFew: true));
            }
        }

        await reader.NextResultAsync(cancellation);
        await ReadOutermostAsync(reader, ahead.Units, cancellation);
    }

    private static async ValueTask ReadSerialGapsAsync(NpgsqlDataReader reader, ILevelRows into, CancellationToken cancellation)
    {
        while (await reader.ReadAsync(cancellation))
        {
            into.Add(Gap(reader));
        }
    }

    private async ValueTask ReadOutermostAsync(NpgsqlDataReader reader, IEnumerable<string> units, CancellationToken cancellation)
    {
        foreach (var unit in units.Where(u => !_inside.Contains(u)))
        {
            _outermost[unit] = null;
        }

        while (await reader.ReadAsync(cancellation))
        {
            var unit = Unit(reader);
            _outermost[unit.Unit] = unit;
        }
    }

    // Of few units it is kept what the rows say, and which of them are inside another one.
    private InstallationRow Installation(NpgsqlDataReader r, bool isOfFew)
    {
        var parent = r.GetString(1);
        var row = new InstallationRow(
            r.GetString(0),
            parent,
            r.GetInt64(2),
            Time(r, 3),
            NullableTime(r, 4),
            InstallationColumns.Uncertainty(r, 5),
            r.IsDBNull(7) ? null : Unit(parent, r, 6));
        if (isOfFew && row.To is null)
        {
            _inside.Add(row.Component);
        }

        if (isOfFew && _seen.HasRoom)
        {
            _seen.Add(
                new(EvidenceKind.Installation, parent, row.RowId),
                new(r.GetGuid(11), NullableText(r, 12), r.GetString(13), null, null, row.Component, null, row.From, row.To, null));
        }

        return row;
    }

    private static UnitRow Unit(NpgsqlDataReader r) => Unit(r.GetString(0), r, 1);

    // Its columns from this one on.
    private static UnitRow Unit(string unit, NpgsqlDataReader r, int first) => new(
        unit, NullableTime(r, first), ScopeNames.Place(r.GetString(first + 1)), NullableText(r, first + 2), NullableTime(r, first + 3), NullableText(r, first + 4));
}
