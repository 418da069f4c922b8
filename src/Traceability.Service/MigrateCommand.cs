using System.Globalization;
using Traceability.Service.Storage;
using Traceability.Service.Storage.Schema;

namespace Traceability.Service;

/// <summary>"migrate": brings the database to this version's form; or says what it lacks; or writes the SQL for a person to apply.</summary>
internal static class MigrateCommand
{
    /// <summary>The first argument that asks for it.</summary>
    public const string Name = "migrate";

    /// <summary>The database lacks something.</summary>
    public const int Behind = 2;

    /// <summary>The database has a form that this version must not touch.</summary>
    public const int Refused = 3;

    private const string Usage =
        """
        migrate [settings]                apply what is missing
        migrate --check [settings]        say what is missing; exit code 0: nothing, 2: something, 3: not a database for this version
        migrate --script NUMBER           write the SQL from that migration on, without a database; 0: for an empty database
        migrate --script [settings]       write the SQL that the database lacks
        Settings as for the service, such as --ConnectionStrings:Traceability=...
        """;

    /// <summary>Runs it; the exit code.</summary>
    public static async Task<int> RunAsync(string[] args, TextWriter output, CancellationToken cancellation = default)
    {
        switch (args)
        {
            case ["--script", var from] when int.TryParse(from, NumberStyles.None, CultureInfo.InvariantCulture, out var number):
                if (number != 0 && Migration.All.All(m => m.Number != number))
                {
                    await output.WriteLineAsync($"There is no migration {from}. They are: {string.Join(", ", Migration.All.Select(m => m.Name))}.");
                    return 1;
                }

                await output.WriteAsync(SchemaScript.After(number));
                return 0;
            case ["--script", .. var settings]:
                return await WithDatabaseAsync(settings, (migrator, c) => ScriptAsync(migrator, output, c), cancellation);
            case ["--check", .. var settings]:
                return await WithDatabaseAsync(settings, (migrator, c) => CheckAsync(migrator, output, c), cancellation);
            case ["--help" or "-h", ..]:
                await output.WriteLineAsync(Usage);
                return 0;
            default:
                return await WithDatabaseAsync(args, (migrator, c) => ApplyAsync(migrator, output, c), cancellation);
        }
    }

    private static async Task<int> ApplyAsync(Migrator migrator, TextWriter output, CancellationToken cancellation)
    {
        try
        {
            var applied = await migrator.ApplyAsync(cancellation);
            await output.WriteLineAsync(applied.Count == 0 ? "Nothing was missing." : $"Applied: {string.Join(", ", applied)}.");
            return 0;
        }
        catch (SchemaException refused)
        {
            await output.WriteLineAsync(refused.Message);
            return Refused;
        }
    }

    private static async Task<int> CheckAsync(Migrator migrator, TextWriter output, CancellationToken cancellation)
    {
        var state = await migrator.StateAsync(cancellation);
        if (state.Trouble is { } trouble)
        {
            await output.WriteLineAsync(trouble);
            return state.Foreign.IsEmpty && state.Edited.IsEmpty ? Behind : Refused;
        }

        await output.WriteLineAsync(state.Newer.IsEmpty
            ? "Nothing is missing."
            : $"Nothing is missing. A newer version has added {string.Join(", ", state.Newer)}, with which this one can work.");
        return 0;
    }

    private static async Task<int> ScriptAsync(Migrator migrator, TextWriter output, CancellationToken cancellation)
    {
        var state = await migrator.StateAsync(cancellation);
        if (!state.Foreign.IsEmpty || !state.Edited.IsEmpty)
        {
            await output.WriteLineAsync($"-- {state.Trouble}");
            return Refused;
        }

        await output.WriteAsync(await migrator.HasEventTablesAsync(cancellation) ? SchemaScript.Of(state.Missing, string.Empty) : SchemaScript.After(0));
        return 0;
    }

    private static async Task<int> WithDatabaseAsync(string[] settings, Func<Migrator, CancellationToken, Task<int>> work, CancellationToken cancellation)
    {
        await using var service = await TraceabilityService.OpenAsync(settings, cancellation);
        return await work(service.App.Services.GetRequiredService<Migrator>(), cancellation);
    }
}
