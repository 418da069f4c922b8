using System.Text;
using Marten;

namespace Traceability.Service.Storage.Schema;

/// <summary>The SQL that brings a database to this version's form, to be read and applied by hand. Made without a database.</summary>
internal static class SchemaScript
{
    /// <summary>Everything after the migration of this number; 0: for an empty database, with the event store's own tables.</summary>
    public static string After(int number) =>
        Of([.. Migration.All.Where(m => m.Number > number)], number == 0 ? $"-- The event store's tables.\n{EventTables()}\n" : string.Empty);

    /// <summary>These migrations, after other statements.</summary>
    public static string Of(ImmutableArray<Migration> migrations, string before)
    {
        var script = new StringBuilder("-- For the database of the traceability service. Apply it with:\n-- psql --single-transaction --set ON_ERROR_STOP=1 --file THIS-FILE\n\n");
        script.Append(before).Append(Migrator.Ledger);
        foreach (var migration in migrations)
        {
            script.Append("\n-- ").Append(migration.Name).Append('\n').Append(Of(migration));
        }

        return script.Append("\nset search_path to default;\n").ToString();
    }

    /// <summary>One migration with the note that it was applied.</summary>
    public static string Of(Migration migration) =>
        $"""
        set local search_path to traceability;
        {migration.Sql.TrimEnd()}
        insert into traceability.migration (number, name, checksum, is_compatible) values ({migration.Number}, '{migration.Name}', '{migration.Checksum}', {(migration.IsCompatible ? "true" : "false")});

        """;

    // The store describes its tables without asking a database.
    private static string EventTables()
    {
        using var source = Npgsql.NpgsqlDataSource.Create("Host=localhost;Database=none");
        using var store = DocumentStore.For(o => EventStore.Configure(o, source));
        return store.Storage.Database.ToDatabaseScript().ReplaceLineEndings("\n");
    }
}
