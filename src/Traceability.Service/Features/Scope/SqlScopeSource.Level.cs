using Npgsql;
using Traceability.Domain.Scope;
using InstallationColumns = Traceability.Service.Ingest.InstallationColumns;

namespace Traceability.Service.Features.Scope;

/// <content>Rows that lead from units to those around them.</content>
internal sealed partial class SqlScopeSource
{
    /// <inheritdoc />
    public async ValueTask LevelAsync(
        IReadOnlyCollection<string> components,
        IReadOnlyCollection<string> items,
        IReadOnlyCollection<string> units,
        ILevelRows into,
        CancellationToken cancellation)
    {
        if (_ways is { } ways)
        {
            ways.Give(components, items, units, into);
            components = [.. components.Where(c => !ways.Components.Contains(c))];
            items = [.. items.Where(i => !ways.Items.Contains(i))];
            units = [.. units.Where(u => !ways.Units.Contains(u))];
        }

        if (IsShared(components.Count))
        {
            await ShareAsync(components, into, cancellation);
            components = [];
        }

        if (components.Count + items.Count + units.Count == 0)
        {
            return;
        }

        // What the evidence of a large level says isn't asked for with it: hardly any of it will be on the page that is asked for.
        var withEvidence = components.Count <= FewUnits && _seen.HasRoom;
        await using var batch = new NpgsqlBatch(connection);
        batch.BatchCommands.Add(BatchCommand(withEvidence ? LevelSql.InstallationsSaying : LevelSql.Installations, [Texts(components)]));
        batch.BatchCommands.Add(BatchCommand(LevelSql.SerialGaps, [Texts(items)]));
        batch.BatchCommands.Add(BatchCommand(LevelSql.Units, [Texts(units)]));
        await using var reader = await batch.ExecuteReaderAsync(cancellation);
        while (await reader.ReadAsync(cancellation))
        {
            into.Add(Installation(reader, withEvidence));
        }

        await reader.NextResultAsync(cancellation);
        await ReadSerialGapsAsync(reader, into, cancellation);
        await reader.NextResultAsync(cancellation);
        await ReadUnitsAsync(reader, into, cancellation);
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
    public async ValueTask<IReadOnlyList<UnitRow>> UnitsAsync(IReadOnlyCollection<string> units, CancellationToken cancellation) =>
        await ReadAsync(LevelSql.Units, [Texts(units)], Unit, cancellation);

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
        batch.BatchCommands.Add(BatchCommand(LevelSql.Units, [Texts(ahead.Units)]));
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
                ahead.Add(Installation(reader, _seen.HasRoom));
            }
        }

        await reader.NextResultAsync(cancellation);
        await ReadUnitsAsync(reader, ahead, cancellation);
    }

    private static async ValueTask ReadSerialGapsAsync(NpgsqlDataReader reader, ILevelRows into, CancellationToken cancellation)
    {
        while (await reader.ReadAsync(cancellation))
        {
            into.Add(Gap(reader));
        }
    }

    private static async ValueTask ReadUnitsAsync(NpgsqlDataReader reader, ILevelRows into, CancellationToken cancellation)
    {
        while (await reader.ReadAsync(cancellation))
        {
            into.Add(Unit(reader));
        }
    }

    private InstallationRow Installation(NpgsqlDataReader r, bool withEvidence)
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
        if (withEvidence && _seen.HasRoom)
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
