using System.Collections.Concurrent;
using System.Data;
using Npgsql;
using Traceability.Contracts.Rebuilds;
using Traceability.Service.Ingest.Bulk;

namespace Traceability.Service.Features.Rebuilds;

/// <summary>Compares the live tables with the second ones. What differs was wrong in the live ones, since the second ones are judged from the facts alone.</summary>
/// <remarks>
/// Compared in one snapshot. Left out is what that snapshot says is on its way: units written since they were judged a second
/// time (compared when they are caught up with), and units that wait to be judged again. How often a unit was judged is no
/// part of what is compared.
/// </remarks>
internal sealed class ShadowComparison(int namedMax)
{
    private const string Count = "judgement";

    private readonly Dictionary<string, SortedSet<string>> _named = new(StringComparer.Ordinal);
    private readonly Dictionary<string, TableComparison> _tables = new(StringComparer.Ordinal);
    private ImmutableArray<string> _yields = [];
    private long _differing;
    private long _leftOut;

    /// <summary>Whether all that was compared says the same.</summary>
    public bool IsEqual => _differing == 0 && _yields.IsEmpty;

    /// <summary>What was found so far.</summary>
    public RebuildComparison Result() => new(
        [.. _tables.Values],
        _differing,
        [.. _named.OrderBy(n => n.Key, StringComparer.Ordinal).Select(n => new DifferingUnit(n.Key, [.. n.Value]))],
        _yields.Length,
        [.. _yields.Take(namedMax)],
        _leftOut);

    /// <summary>Compares everything, within a transaction that holds one snapshot. Units that differ are marked, so that no instance goes on with rows that it remembers of them.</summary>
    /// <param name="connection">The connection, in its transaction.</param>
    /// <param name="database">Where further connections look at the same snapshot.</param>
    /// <param name="workers">How many tables are read at a time.</param>
    /// <param name="cancellation">Gives up.</param>
    public async Task CompareAllAsync(NpgsqlConnection connection, NpgsqlDataSource database, int workers, CancellationToken cancellation)
    {
        // It may have to wait for the others' last tables.
        await Sql.ExecuteAsync(connection, "set local idle_in_transaction_session_timeout = 0", cancellation);
        await SkipAsync(connection, cancellation);
        _leftOut = await Sql.ScalarAsync<long>(connection, "select count(*) from skipped", cancellation);
        var hashes = new Dictionary<string, string>(StringComparer.Ordinal);
        foreach (var (table, _) in UnitTables.Keys)
        {
            hashes[table] = await HashAsync(connection, table, cancellation);
        }

        var sums = await SumAllAsync(connection, database, workers, hashes, cancellation);
        foreach (var (table, key) in UnitTables.Keys)
        {
            var (live, next) = (sums[(ShadowTables.Live, table)], sums[(ShadowTables.Next, table)]);
            _tables[table] = new(table, live.Rows, next.Rows, live.Hash.ToString("x16", System.Globalization.CultureInfo.InvariantCulture), next.Hash.ToString("x16", System.Globalization.CultureInfo.InvariantCulture));
            if (live != next)
            {
                await NameAsync(connection, table, key, hashes[table], NotSkipped(key), cancellation);
            }
        }

        await MarkAsync(connection, cancellation);
        _yields = await YieldCheck.CheckAsync(connection, cancellation);
    }

    // The largest tables first, each by whoever is free: this connection, and others in its snapshot.
    private static async Task<ConcurrentDictionary<(string Schema, string Table), (long Rows, long Hash)>> SumAllAsync(
        NpgsqlConnection connection, NpgsqlDataSource database, int workers, Dictionary<string, string> hashes, CancellationToken cancellation)
    {
        var sums = new ConcurrentDictionary<(string Schema, string Table), (long Rows, long Hash)>();
        var keys = UnitTables.Keys.ToDictionary(k => k.Table, k => k.Key, StringComparer.Ordinal);
        var queue = new ConcurrentQueue<(string Schema, string Table)>(
            (await ShadowTables.BySizeAsync(connection, cancellation)).Where(keys.ContainsKey).SelectMany(t => new[] { (ShadowTables.Live, t), (ShadowTables.Next, t) }));
        var snapshot = await Sql.ScalarAsync<string>(connection, "select pg_export_snapshot()", cancellation);
        await Task.WhenAll([TakeAsync(connection), .. Enumerable.Range(1, workers - 1).Select(_ => HelpAsync())]);
        return sums;

        async Task TakeAsync(NpgsqlConnection on)
        {
            while (queue.TryDequeue(out var part))
            {
                sums[part] = await SumAsync(on, part.Schema, part.Table, hashes[part.Table], NotSkipped(keys[part.Table]), cancellation);
            }
        }

        async Task HelpAsync()
        {
            await using var other = await database.OpenConnectionAsync(cancellation);
            await using var transaction = await other.BeginTransactionAsync(IsolationLevel.RepeatableRead, cancellation);
            await Sql.ExecuteAsync(other, $"set transaction snapshot '{snapshot}'", cancellation);
            await SkipAsync(other, cancellation);
            await TakeAsync(other);
            await transaction.CommitAsync(cancellation);
        }
    }

    private static Task SkipAsync(NpgsqlConnection connection, CancellationToken cancellation) => Sql.ExecuteAsync(
        connection,
        $"create temp table skipped on commit drop as select unit from {ShadowTables.Next}.dirty union select unit from {ShadowTables.Live}.rejudge",
        cancellation);

    private static string NotSkipped(string key) => $"where not exists (select from skipped s where s.unit = t.{key})";

    /// <summary>Compares some units, within a transaction that holds one snapshot.</summary>
    public async Task CompareAsync(NpgsqlConnection connection, string[] units, CancellationToken cancellation)
    {
        foreach (var (table, key) in UnitTables.Keys)
        {
            var filter = $"where t.{key} = any($1) and not exists (select from {ShadowTables.Live}.rejudge q where q.unit = t.{key})";
            await NameAsync(connection, table, key, await HashAsync(connection, table, cancellation), filter, cancellation, [units]);
        }

        await MarkAsync(connection, cancellation);
    }

    // The hash of a row's values in order of its columns, in the types' own binary hashing: no text is made.
    private static async Task<string> HashAsync(NpgsqlConnection connection, string table, CancellationToken cancellation)
    {
        var columns = await Sql.ListAsync(
            connection,
            $"select quote_ident(attname) from pg_attribute where attrelid = '{ShadowTables.Live}.{table}'::regclass and attnum > 0 and not attisdropped and attname <> '{Count}' order by attnum",
            r => r.GetString(0),
            cancellation);
        return $"coalesce(bit_xor(hash_record_extended(row({string.Join(", ", columns.Select(c => $"t.{c}"))}), 0)), 0)";
    }

    private static async Task<(long Rows, long Hash)> SumAsync(
        NpgsqlConnection connection, string schema, string table, string hash, string filter, CancellationToken cancellation) =>
        (await Sql.ListAsync(connection, $"select count(*), {hash} from {schema}.{table} t {filter}", r => (r.GetInt64(0), r.GetInt64(1)), cancellation))[0];

    private static async Task NameAsync(
        NpgsqlConnection connection, string table, string key, string hash, string filter, CancellationToken cancellation, params object[] values)
    {
        await Sql.ExecuteAsync(connection, "create temp table if not exists differing (unit text, tab text) on commit drop", cancellation);
        await Sql.ExecuteAsync(
            connection,
            $"""
            insert into differing (unit, tab) select coalesce(l.unit, n.unit), '{table}'
            from (select t.{key} as unit, count(*) as rows, {hash} as hash from {ShadowTables.Live}.{table} t {filter} group by t.{key}) l
            full join (select t.{key} as unit, count(*) as rows, {hash} as hash from {ShadowTables.Next}.{table} t {filter} group by t.{key}) n on n.unit = l.unit
            where (l.rows, l.hash) is distinct from (n.rows, n.hash)
            """,
            cancellation,
            values);
    }

    // A running instance remembers which rows a unit has: with another count of judgements it reads them again.
    private async Task MarkAsync(NpgsqlConnection connection, CancellationToken cancellation)
    {
        await Sql.ExecuteAsync(connection, "create temp table if not exists differing (unit text, tab text) on commit drop", cancellation);
        await Sql.ExecuteAsync(connection, $"update {ShadowTables.Next}.unit set {Count} = {Count} + 1 where unit in (select unit from differing)", cancellation);
        _differing += await Sql.ScalarAsync<long>(connection, "select count(distinct unit) from differing", cancellation);
        var named = await Sql.ListAsync(
            connection,
            FormattableString.Invariant($"select unit, string_agg(distinct tab, ',' order by tab) from differing group by unit order by unit limit {namedMax}"),
            r => (Unit: r.GetString(0), Tables: r.GetString(1)),
            cancellation);
        foreach (var (unit, tables) in named.Where(n => _named.Count < namedMax || _named.ContainsKey(n.Unit)))
        {
            (_named.TryGetValue(unit, out var known) ? known : _named[unit] = new(StringComparer.Ordinal)).UnionWith(tables.Split(','));
        }
    }
}
