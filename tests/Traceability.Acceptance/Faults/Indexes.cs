using Npgsql;
using Traceability.Acceptance.Robustness;

namespace Traceability.Acceptance.Faults;

/// <summary>Looks for damage in the database's own structures, by PostgreSQL's module amcheck.</summary>
internal static class Indexes
{
    /// <summary>Every index of the service's tables agrees with its table.</summary>
    public static Task RequireWholeAsync(ServiceProcess service) => RequireWholeAsync(new NpgsqlConnectionStringBuilder(service.Database.ConnectionString) { Username = "postgres" }.ConnectionString);

    /// <summary>The same on a server, as its superuser.</summary>
    public static async Task RequireWholeAsync(string connectionString)
    {
        await using var database = NpgsqlDataSource.Create(connectionString);
        await using var command = database.CreateCommand(
            """
            create extension if not exists amcheck;
            select count(*) from (
              select bt_index_check(c.oid, true) from pg_index i join pg_class c on c.oid = i.indexrelid join pg_namespace n on n.oid = c.relnamespace join pg_am m on m.oid = c.relam
              where n.nspname in ('events', 'traceability') and m.amname = 'btree' and i.indisvalid and c.relkind = 'i') checked
            """);
        command.CommandTimeout = 300;
        Assert.True((long)(await command.ExecuteScalarAsync())! > 20, "Hardly any index was looked at.");
    }
}
