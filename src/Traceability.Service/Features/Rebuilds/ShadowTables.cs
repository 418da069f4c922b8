using Npgsql;
using Traceability.Service.Ingest.Bulk;

namespace Traceability.Service.Features.Rebuilds;

/// <summary>The derived tables built a second time, in a schema of their own, and put in the place of the live ones.</summary>
/// <remarks>
/// The second tables take their form from the live ones, with the same names of indexes and constraints, so that after the swap
/// nothing tells them from those that the migrations made. Names are looked up anew by every prepared statement after a swap.
/// </remarks>
internal static class ShadowTables
{
    /// <summary>The schema of the live tables.</summary>
    public const string Live = "traceability";

    /// <summary>The schema of the second tables while they are built.</summary>
    public const string Next = "traceability_next";

    // Where the live tables go in the swap, until they are dropped.
    private const string Old = "traceability_old";

    private const string CatchUpIndex = "rebuild_dependency";

    private static readonly TimeSpan Patience = TimeSpan.FromMilliseconds(500);

    /// <summary>Every derived table; the two queues of yield differences go with the counters that they belong to.</summary>
    public static ImmutableArray<string> Names { get; } =
        [.. UnitTables.Keys.Select(k => k.Table), "step_yield_day", "unit_yield_day", "step_yield_change", "unit_yield_change"];

    /// <summary>Drops what a rebuild may have left behind. Tables in use are waited for, without holding up those who use them.</summary>
    public static async Task DropAsync(NpgsqlConnection connection, TimeProvider clock, CancellationToken cancellation)
    {
        foreach (var schema in new[] { Next, Old })
        {
            await PersistAsync(connection, clock, $"drop schema if exists {schema} cascade", cancellation);
        }
    }

    /// <summary>Whether a rebuild has left anything behind.</summary>
    public static Task<bool> AreThereAsync(NpgsqlConnection connection, CancellationToken cancellation) =>
        Sql.ScalarAsync<bool>(connection, $"select exists (select from pg_namespace where nspname in ('{Next}', '{Old}'))", cancellation);

    /// <summary>Makes the tables, empty and without indexes, and begins to note which units are written from now on.</summary>
    public static async Task CreateAsync(NpgsqlConnection connection, TimeProvider clock, CancellationToken cancellation)
    {
        await Sql.ExecuteAsync(connection, $"create schema {Next}", cancellation);
        foreach (var table in Names)
        {
            var (kind, options) = (await Sql.ListAsync(
                connection,
                $"select relkind, coalesce(array_to_string(reloptions, ', '), '') from pg_class where oid = '{Live}.{table}'::regclass",
                r => (r.GetChar(0), r.GetString(1)),
                cancellation))[0];
            if (kind != 'r')
            {
                throw new InvalidOperationException($"Table {table} is not a plain table, and a rebuild makes plain ones.");
            }

            var with = options.Length == 0 ? string.Empty : $" with ({options})";
            await Sql.ExecuteAsync(connection, $"create table {Next}.{table} (like {Live}.{table} including all excluding indexes){with}", cancellation);
            await GrantAsync(connection, table, cancellation);
        }

        // A writer's note is committed with what it wrote: one that commits late is noted late, and so is never missed.
        await Sql.ExecuteAsync(
            connection,
            $"""
            create table {Next}.dirty (id bigint generated always as identity primary key, unit text not null);
            create table {Next}.later (id bigint generated always as identity primary key, stream text not null);
            create function {Next}.note() returns trigger language plpgsql as $$
            begin
              insert into {Next}.dirty (unit) select unit from changed;
              return null;
            end $$
            """,
            cancellation);
        await PersistAsync(
            connection,
            clock,
            $"""
            create trigger rebuild_inserted after insert on {Live}.unit referencing new table as changed for each statement execute function {Next}.note();
            create trigger rebuild_updated after update on {Live}.unit referencing new table as changed for each statement execute function {Next}.note()
            """,
            cancellation);
    }

    /// <summary>Makes the live tables' indexes and keys on these second tables, and takes their statistics.</summary>
    public static async Task IndexAsync(NpgsqlConnection connection, IEnumerable<string> tables, CancellationToken cancellation)
    {
        foreach (var table in tables)
        {
            var indexes = await Sql.ListAsync(
                connection,
                $"""
                select pg_get_indexdef(i.indexrelid), c.conname, n.relname from pg_index i
                join pg_class n on n.oid = i.indexrelid left join pg_constraint c on c.conindid = i.indexrelid and c.contype = 'p'
                where i.indrelid = '{Live}.{table}'::regclass order by n.relname
                """,
                r => (Definition: r.GetString(0), Constraint: r.IsDBNull(1) ? null : r.GetString(1), Name: r.GetString(2)),
                cancellation);
            foreach (var (definition, constraint, name) in indexes)
            {
                await Sql.ExecuteAsync(connection, definition.Replace($" ON {Live}.", $" ON {Next}.", StringComparison.Ordinal), cancellation);
                if (constraint is not null)
                {
                    await Sql.ExecuteAsync(connection, $"alter table {Next}.{table} add constraint {constraint} primary key using index {name}", cancellation);
                }
            }
        }
    }

    /// <summary>Makes what only the catching up needs: rows that the live tables never look for by unit are found by it.</summary>
    public static Task IndexForCatchUpAsync(NpgsqlConnection connection, CancellationToken cancellation) =>
        Sql.ExecuteAsync(connection, $"create index {CatchUpIndex} on {Next}.dependency (unit)", cancellation);

    /// <summary>Takes the statistics of a second table, and marks its pages as seen by all.</summary>
    public static Task AnalyzeAsync(NpgsqlConnection connection, string table, CancellationToken cancellation) =>
        Sql.ExecuteAsync(connection, $"vacuum (analyze) {Next}.{table}", cancellation);

    /// <summary>The second tables, the largest first: so work on several at a time ends together.</summary>
    public static Task<List<string>> BySizeAsync(NpgsqlConnection connection, CancellationToken cancellation) => Sql.ListAsync(
        connection,
        $"select relname::text from pg_class where relnamespace = '{Next}'::regnamespace and relname = any($1) order by pg_relation_size(oid) desc, relname",
        r => r.GetString(0),
        cancellation,
        [Names.ToArray()]);

    /// <summary>Puts the second tables in the place of the live ones, if they can be had soon and nothing was written since.</summary>
    public static Task<bool> TrySwapAsync(NpgsqlConnection connection, CancellationToken cancellation) => Sql.TryLockedAsync(
        connection,
        Patience,
        async _ =>
        {
            await Sql.ExecuteAsync(connection, $"lock table {string.Join(", ", Names.Select(n => $"{Live}.{n}"))} in access exclusive mode", cancellation);
            if (await Sql.ScalarAsync<bool>(connection, $"select exists (select from {Next}.dirty)", cancellation))
            {
                return false;
            }

            await Sql.ExecuteAsync(
                connection,
                $"""
                create schema {Old};
                drop index {Next}.{CatchUpIndex};
                drop trigger rebuild_inserted on {Live}.unit;
                drop trigger rebuild_updated on {Live}.unit;
                {string.Join('\n', Names.Select(n => $"alter table {Live}.{n} set schema {Old}; alter table {Next}.{n} set schema {Live};"))}
                """,
                cancellation);
            return true;
        },
        cancellation);

    // A role that was allowed to read the live table is allowed to read the second one.
    private static async Task GrantAsync(NpgsqlConnection connection, string table, CancellationToken cancellation)
    {
        var grants = await Sql.ListAsync(
            connection,
            $"""
            select format('grant %s on {Next}.{table} to %s', a.privilege_type, case a.grantee when 0 then 'public' else quote_ident(pg_get_userbyid(a.grantee)) end)
            from pg_class c cross join aclexplode(c.relacl) a where c.oid = '{Live}.{table}'::regclass and a.grantee <> c.relowner
            """,
            r => r.GetString(0),
            cancellation);
        if (grants.Count > 0)
        {
            await Sql.ExecuteAsync(connection, string.Join(';', grants), cancellation);
        }
    }

    private static async Task PersistAsync(NpgsqlConnection connection, TimeProvider clock, string sql, CancellationToken cancellation)
    {
        while (!await Sql.TryLockedAsync(
            connection,
            Patience,
            async _ =>
            {
                await Sql.ExecuteAsync(connection, sql, cancellation);
                return true;
            },
            cancellation))
        {
            await Task.Delay(Patience, clock, cancellation);
        }
    }
}
