using Npgsql;
using Traceability.Domain.Scope;
using InstallationColumns = Traceability.Service.Ingest.InstallationColumns;

namespace Traceability.Service.Features.Scope;

/// <content>Rows that lead from units to those around them.</content>
internal sealed partial class SqlScopeSource
{
    private LevelAhead? _ahead;

    /// <inheritdoc />
    public async ValueTask<LevelRows> LevelAsync(
        IReadOnlyCollection<string> components, IReadOnlyCollection<string> items, IReadOnlyCollection<string> units, CancellationToken cancellation)
    {
        if (_ahead is not { } ahead)
        {
            return await AskLevelAsync(components, items, units, cancellation);
        }

        string[] otherComponents = [.. components.Where(c => !ahead.Units.Contains(c))];
        string[] otherItems = [.. items.Where(i => !ahead.Items.Contains(i))];
        string[] otherUnits = [.. units.Where(u => !ahead.Units.Contains(u))];
        return ahead.With(
            components,
            items,
            units,
            otherComponents.Length + otherItems.Length + otherUnits.Length == 0 ? new([], [], []) : await AskLevelAsync(otherComponents, otherItems, otherUnits, cancellation));
    }

    /// <inheritdoc />
    public async ValueTask<IReadOnlyCollection<string>> ComponentItemsAsync(IReadOnlyCollection<string> items, CancellationToken cancellation) =>
        await ReadAsync(LevelSql.ComponentItems, [Texts(items)], static r => r.GetString(0), cancellation);

    /// <inheritdoc />
    public async ValueTask<IReadOnlyList<UnitRow>> UnitsAsync(IReadOnlyCollection<string> units, CancellationToken cancellation) =>
        await ReadAsync(LevelSql.Units, [Texts(units)], Unit, cancellation);

    private async ValueTask<LevelRows> AskLevelAsync(
        IReadOnlyCollection<string> components, IReadOnlyCollection<string> items, IReadOnlyCollection<string> units, CancellationToken cancellation)
    {
        await using var batch = new NpgsqlBatch(connection);
        AddLevel(batch, components, items, units);
        await using var reader = await batch.ExecuteReaderAsync(cancellation);
        return await ReadLevelAsync(reader, cancellation);
    }

    private static void AddLevel(
        NpgsqlBatch batch, IReadOnlyCollection<string> components, IReadOnlyCollection<string> items, IReadOnlyCollection<string> units)
    {
        batch.BatchCommands.Add(BatchCommand(LevelSql.Installations, [Texts(components)]));
        batch.BatchCommands.Add(BatchCommand(LevelSql.SerialGaps, [Texts(items)]));
        batch.BatchCommands.Add(BatchCommand(LevelSql.Units, [Texts(units)]));
    }

    private async ValueTask<LevelRows> ReadLevelAsync(NpgsqlDataReader reader, CancellationToken cancellation)
    {
        var installations = await ReadAsync(reader, Installation, cancellation);
        await reader.NextResultAsync(cancellation);
        var gaps = await ReadAsync(reader, Gap, cancellation);
        await reader.NextResultAsync(cancellation);
        return new(installations, gaps, await ReadAsync(reader, Unit, cancellation));
    }

    private InstallationRow Installation(NpgsqlDataReader r)
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
        if (_seen.HasRoom)
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
