using System.Collections.Immutable;
using Npgsql;
using Traceability.Service.Storage.Schema;
using Traceability.Service.Tests.ContractTests;
using Traceability.Testing;
using Xunit;

namespace Traceability.Service.Tests.Upgrades;

/// <summary>The database's form changes by numbered files only, which a person can read, check and apply by hand.</summary>
public sealed class MigrationTests
{
    // Everything that there is in our two schemas, in words.
    private const string Catalogue =
        """
        select string_agg(line, E'\n' order by line collate "C") from (
          select format('table %s.%s', schemaname, tablename) as line from pg_tables where schemaname in ('traceability', 'events')
          union all
          select format('column %s.%s.%s %s null=%s default=%s identity=%s', table_schema, table_name, column_name, udt_name, is_nullable, regexp_replace(column_default, '\d{4}-\d\d-[^'']*', 'time'), is_identity)
          from information_schema.columns where table_schema in ('traceability', 'events')
          union all
          select format('index %s', indexdef) from pg_indexes where schemaname in ('traceability', 'events')
          union all
          select format('constraint %s %s %s', c.conrelid::regclass, c.conname, pg_get_constraintdef(c.oid)) from pg_constraint c
          join pg_namespace n on n.oid = c.connamespace where n.nspname in ('traceability', 'events')
          union all
          select format('function %s.%s %s', n.nspname, p.proname, md5(regexp_replace(pg_get_functiondef(p.oid), '\s+', ' ', 'g'))) from pg_proc p
          join pg_namespace n on n.oid = p.pronamespace where n.nspname in ('traceability', 'events')
          union all
          select format('sequence %s.%s', schemaname, sequencename) from pg_sequences where schemaname in ('traceability', 'events')
          union all
          select format('applied %s %s %s %s', number, name, checksum, is_compatible) from traceability.migration) lines
        """;

    [Fact]
    public async Task The_committed_schema_is_what_the_command_writes_and_gives_the_form_that_the_service_makes()
    {
        var committed = await File.ReadAllTextAsync(Path.Combine(Repository.Root, "deploy", "schema", "traceability.sql"));
        Assert.Equal((0, committed), await RunAsync("--script", "0"));

        await using var byHand = await PostgresServer.CreateDatabaseAsync();
        await ExecuteAsync(byHand, $"begin; {committed} commit;");
        await using var byService = await PostgresServer.CreateDatabaseAsync();
        Assert.Equal(0, (await RunAsync(Connect(byService))).Code);

        Assert.Equal(await CatalogueAsync(byService), await CatalogueAsync(byHand));
        Assert.Equal((0, "Nothing is missing.\n"), await RunAsync("--check", Connect(byHand)));
    }

    [Fact]
    public async Task A_database_is_checked_and_brought_on_from_where_it_stands_by_hand_or_by_the_command()
    {
        await using var database = await PostgresServer.CreateDatabaseAsync();
        var (code, said) = await RunAsync("--check", Connect(database));
        Assert.Equal(MigrateCommand.Behind, code);
        Assert.All(Migration.All, m => Assert.Contains(m.Name, said, StringComparison.Ordinal));

        // As the version before left it: without checksums.
        var first = Migration.All.TakeWhile(m => m.Number < 20).ToImmutableArray();
        await ExecuteAsync(database, await EventTablesAsync());
        await ExecuteAsync(database, "create schema traceability; create table traceability.migration (number integer primary key, name text not null, applied_at timestamptz not null default now())");
        foreach (var migration in first)
        {
            await ExecuteAsync(database, $"begin; set local search_path to traceability; {migration.Sql} insert into traceability.migration values ({migration.Number}, '{migration.Name}'); commit;");
        }

        (code, said) = await RunAsync("--check", Connect(database));
        Assert.Equal(MigrateCommand.Behind, code);
        Assert.DoesNotContain(first[0].Name, said, StringComparison.Ordinal);
        Assert.Contains(Migration.All[^1].Name, said, StringComparison.Ordinal);

        var (_, online) = await RunAsync("--script", Connect(database));
        var (_, offline) = await RunAsync("--script", first[^1].Number.ToString(System.Globalization.CultureInfo.InvariantCulture));
        Assert.Equal(offline, online);
        await ExecuteAsync(database, $"begin; {online} commit;");
        Assert.Equal(0, (await RunAsync("--check", Connect(database))).Code);
        Assert.Equal((0, "Nothing was missing.\n"), await RunAsync(Connect(database)));
    }

    [Fact]
    public async Task An_edited_migration_is_refused_by_the_command_and_by_the_service()
    {
        await using var database = await PostgresServer.CreateDatabaseAsync();
        Assert.Equal(0, (await RunAsync(Connect(database))).Code);
        await ExecuteAsync(database, "update traceability.migration set checksum = 'other' where number = 2");

        Assert.Equal(MigrateCommand.Refused, (await RunAsync("--check", Connect(database))).Code);
        var (code, said) = await RunAsync(Connect(database));
        Assert.Equal(MigrateCommand.Refused, code);
        Assert.Contains("0002-access.sql", said, StringComparison.Ordinal);
        await Assert.ThrowsAsync<SchemaException>(() => TraceabilityService.CreateAsync([Connect(database), "--urls", "http://127.0.0.1:0"]));
    }

    [Theory]
    [InlineData(true)]
    [InlineData(false)]
    public async Task A_newer_form_is_worked_with_if_it_is_marked_compatible_and_refused_otherwise(bool isCompatible)
    {
        await using var database = await PostgresServer.CreateDatabaseAsync();
        Assert.Equal(0, (await RunAsync(Connect(database))).Code);
        await ExecuteAsync(database, $"insert into traceability.migration (number, name, checksum, is_compatible) values (9000, '9000-later.sql', 'x', {isCompatible})");

        var (code, said) = await RunAsync("--check", Connect(database));

        Assert.Equal(isCompatible ? 0 : MigrateCommand.Refused, code);
        Assert.Contains("9000-later.sql", said, StringComparison.Ordinal);
        if (isCompatible)
        {
            await using var service = await TraceabilityService.CreateAsync([Connect(database), "--urls", "http://127.0.0.1:0", $"--Postgres:DataFolder={Directory.CreateTempSubdirectory("traceability-").FullName}"]);
            Assert.NotNull(service);
        }
        else
        {
            await Assert.ThrowsAsync<SchemaException>(() => TraceabilityService.CreateAsync([Connect(database), "--urls", "http://127.0.0.1:0"]));
        }
    }

    [Fact]
    public async Task A_service_that_may_not_migrate_starts_and_is_not_ready_while_the_form_is_behind()
    {
        await using var database = await PostgresServer.CreateDatabaseAsync();
        await using var service = await TraceabilityService.CreateAsync(
            [Connect(database), "--Postgres:MigrateAtStart=false", "--Postgres:AllowUnsafeDurability=true", "--urls", "http://127.0.0.1:0", "--Logging:LogLevel:Default=None"]);
        await service.App.StartAsync();
        using var client = new HttpClient { BaseAddress = new(service.App.Urls.Single()) };

        using var ready = await client.GetAsync("/health/ready");

        Assert.Equal(System.Net.HttpStatusCode.ServiceUnavailable, ready.StatusCode);
        Assert.Contains("0001-units.sql", await ready.Content.ReadAsStringAsync(), StringComparison.Ordinal);
        await service.App.StopAsync();
    }

    [Fact]
    public void Every_migration_since_the_rule_says_whether_an_older_service_can_go_on()
    {
        Assert.All(
            Migration.All.Where(m => m.Number >= 20),
            m => Assert.True(m.IsCompatible || m.Sql.StartsWith(Migration.IncompatibleMark, StringComparison.Ordinal), m.Name));
        Assert.Equal(Migration.Of("0042-x.sql", "select 1;\r\n").Checksum, Migration.Of("0042-x.sql", "select 1;\n").Checksum);
        Assert.NotEqual(Migration.Of("0042-x.sql", "select 1;\n").Checksum, Migration.Of("0042-x.sql", "select 2;\n").Checksum);
    }

    [Fact]
    public async Task A_number_that_no_migration_has_is_refused() => Assert.Equal(1, (await RunAsync("--script", "4711")).Code);

    private static string Connect(TestDatabase database) => $"--ConnectionStrings:Traceability={database.ConnectionString}";

    private static async Task<(int Code, string Said)> RunAsync(params string[] args)
    {
        await using var output = new StringWriter(System.Globalization.CultureInfo.InvariantCulture) { NewLine = "\n" };
        var code = await MigrateCommand.RunAsync([.. args.Select(a => a), .. args.Any(a => a.StartsWith("--Conn", StringComparison.Ordinal)) ? ["--Logging:LogLevel:Default=Error"] : Array.Empty<string>()], output);
        return (code, output.ToString());
    }

    private static async Task<string> EventTablesAsync()
    {
        var (_, whole) = await RunAsync("--script", "0");
        return whole[..whole.IndexOf(Migration.All[0].Name, StringComparison.Ordinal)].Split("create schema if not exists traceability;")[0];
    }

    private static async Task ExecuteAsync(TestDatabase database, string sql)
    {
        await using var source = NpgsqlDataSource.Create(database.ConnectionString);
        await using var command = source.CreateCommand(sql);
        await command.ExecuteNonQueryAsync();
    }

    private static async Task<string> CatalogueAsync(TestDatabase database)
    {
        await using var source = NpgsqlDataSource.Create(database.ConnectionString);
        await using var command = source.CreateCommand(Catalogue);
        return (string)(await command.ExecuteScalarAsync())!;
    }
}
