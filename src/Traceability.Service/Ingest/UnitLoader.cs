using Npgsql;
using NpgsqlTypes;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Service.Storage;

namespace Traceability.Service.Ingest;

/// <summary>Reads what the database holds of units.</summary>
internal static class UnitLoader
{
    // In the order of UnitTable.
    private static readonly ImmutableArray<(string Table, string Key)> Tables =
    [
        ("step_result", "unit"), ("unit_result", "unit"), ("finding", "unit"), ("open_interval", "unit"),
        ("material_usage", "unit"), ("trace_gap", "unit"), ("installation", "parent"), ("cure_window", "unit"), ("tool_usage", "unit"), ("nonconformance", "unit"),
        ("measurement", "unit"), ("interval_result", "unit"), ("work_gap", "unit"),
        ("shipment", "unit"),
    ];

    /// <summary>The rows of units: the number of the table, the unit, the row. Parameter: the units.</summary>
    internal static readonly string RowsSql = string.Join(
        " union all ",
        Tables.Select((t, i) => $"select {i}, {t.Key}, row_id from traceability.{t.Table} where {t.Key} = any($1)"));

    /// <summary>The units of these streams, also those that are not there yet.</summary>
    public static async Task<List<UnitState>> LoadAsync(
        NpgsqlConnection connection, IReadOnlyCollection<string> streams, CancellationToken cancellation)
    {
        if (streams.Count == 0)
        {
            return [];
        }

        // The judgements first: what is read after them can only be newer, and then the stored number of the judgement tells.
        var keys = streams.Select(KeyOf).ToArray();
        var rows = keys.ToDictionary(k => k, _ => Enumerable.Range(0, UnitRows.TableCount).Select(_ => new List<long>()).ToArray(), StringComparer.Ordinal);
        var judgements = new Dictionary<string, long>(StringComparer.Ordinal);
        await using (var batch = new NpgsqlBatch(connection))
        {
            batch.BatchCommands.Add(ByUnit("select unit, judgement from traceability.unit where unit = any($1)", keys));
            batch.BatchCommands.Add(ByUnit(RowsSql, keys));
            await using var reader = await batch.ExecuteReaderAsync(cancellation);
            while (await reader.ReadAsync(cancellation))
            {
                judgements[reader.GetString(0)] = reader.GetInt64(1);
            }

            await reader.NextResultAsync(cancellation);
            while (await reader.ReadAsync(cancellation))
            {
                rows[reader.GetString(1)][reader.GetInt32(0)].Add(reader.GetInt64(2));
            }
        }

        var facts = await EventReader.LoadAsync(connection, streams, cancellation);
        return [.. streams.Select(s =>
        {
            var key = KeyOf(s);
            var unit = UnitKey.Parse(key);
            if (!facts.TryGetValue(s, out var found))
            {
                return new UnitState(ProductUnit.Unknown(unit), 0, NoRows(), new HashSet<string>(StringComparer.Ordinal));
            }

            var folded = ProductUnit.Of(unit, found);
            return new UnitState(folded, judgements.GetValueOrDefault(key), [.. rows[key].Select(r => r.ToArray())], UnitDraft.Watched(folded));
        })];
    }

    /// <summary>Where these components were and are installed; read from the tables of a schema.</summary>
    public static async Task<ILookup<UnitKey, Installation>> InstallationsAsync(
        NpgsqlConnection connection, IReadOnlyCollection<UnitKey> components, CancellationToken cancellation, string schema = "traceability")
    {
        if (components.Count == 0)
        {
            return Array.Empty<Installation>().ToLookup(i => i.Component);
        }

        await using var batch = new NpgsqlBatch(connection) { BatchCommands = { Installations(components, schema) } };
        await using var reader = await batch.ExecuteReaderAsync(cancellation);
        return await ReadInstallationsAsync(reader, cancellation);
    }

    /// <summary>The query for where these components were and are installed, to be sent with others.</summary>
    public static NpgsqlBatchCommand Installations(IReadOnlyCollection<UnitKey> components, string schema = "traceability") => new(
        $"""
        select parent, position, component, step, record, installed_from, installed_to, uncertainty
        from {schema}.installation where component = any($1) order by installed_from, record
        """)
    {
        Parameters = { new() { Value = components.Select(c => c.ToString()).ToArray(), NpgsqlDbType = NpgsqlDbType.Array | NpgsqlDbType.Text } },
    };

    /// <summary>Reads the answer of <see cref="Installations"/>.</summary>
    public static async Task<ILookup<UnitKey, Installation>> ReadInstallationsAsync(NpgsqlDataReader reader, CancellationToken cancellation)
    {
        var found = new List<Installation>();
        while (await reader.ReadAsync(cancellation))
        {
            found.Add(new(
                UnitKey.Parse(reader.GetString(0)),
                Code.Parse(reader.GetString(1)),
                UnitKey.Parse(reader.GetString(2)),
                reader.IsDBNull(3) ? null : StepCode.Parse(reader.GetString(3)),
                reader.GetGuid(4),
                reader.GetFieldValue<DateTimeOffset>(5),
                reader.IsDBNull(6) ? null : reader.GetFieldValue<DateTimeOffset>(6))
            {
                Uncertainty = InstallationColumns.Uncertainty(reader, 7),
            });
        }

        return found.ToLookup(i => i.Component);
    }

    /// <summary>Where these components were and are installed, and the versions of their streams; a stream that isn't there is left out.</summary>
    public static async Task<(ILookup<UnitKey, Installation> Installations, Dictionary<string, int> Versions)> ComponentsAsync(
        NpgsqlConnection connection, IReadOnlyCollection<UnitKey> components, CancellationToken cancellation)
    {
        // The versions first: what is read after them can only be newer, and then the stored version tells.
        var versions = await VersionsAsync(connection, [.. components.Select(StreamNames.Of)], cancellation);
        return (await InstallationsAsync(connection, components, cancellation), versions);
    }

    /// <summary>The versions of these streams; one that isn't there is left out.</summary>
    public static async Task<Dictionary<string, int>> VersionsAsync(NpgsqlConnection connection, string[] streams, CancellationToken cancellation)
    {
        var versions = new Dictionary<string, int>(StringComparer.Ordinal);
        await using var command = new NpgsqlCommand("select id, version from events.mt_streams where id = any($1)", connection)
        {
            Parameters = { new() { Value = streams, NpgsqlDbType = NpgsqlDbType.Array | NpgsqlDbType.Varchar } },
        };
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        while (await reader.ReadAsync(cancellation))
        {
            versions[reader.GetString(0)] = (int)reader.GetInt64(1);
        }

        return versions;
    }

    private static string KeyOf(string stream) => stream[StreamNames.UnitPrefix.Length..];

    private static ImmutableArray<long[]> NoRows() => [.. Enumerable.Range(0, UnitRows.TableCount).Select(_ => Array.Empty<long>())];

    private static NpgsqlBatchCommand ByUnit(string sql, string[] units) =>
        new(sql) { Parameters = { new() { Value = units, NpgsqlDbType = NpgsqlDbType.Array | NpgsqlDbType.Text } } };
}
