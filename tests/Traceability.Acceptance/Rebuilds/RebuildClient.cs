using System.Diagnostics;
using System.Net;
using System.Text.Json;
using Npgsql;
using Traceability.Acceptance.Robustness;
using Traceability.Contracts;
using Traceability.Contracts.Rebuilds;

namespace Traceability.Acceptance.Rebuilds;

/// <summary>Asks for rebuilds over HTTP, as an administrator does.</summary>
internal static class RebuildClient
{
    private static readonly TimeSpan Patience = TimeSpan.FromMinutes(30);

    /// <summary>Starts one.</summary>
    public static async Task<Rebuild> StartAsync(HttpClient admin, bool compareOnly = false)
    {
        using var answer = await admin.PostAsync(compareOnly ? "/api/rebuilds?compareOnly=true" : "/api/rebuilds", null);
        var text = await answer.Content.ReadAsStringAsync();
        Assert.True(answer.StatusCode == HttpStatusCode.Accepted, text);
        return JsonSerializer.Deserialize<Rebuild>(text, WireJson.Options)!;
    }

    /// <summary>The newest one.</summary>
    public static async Task<Rebuild> LastAsync(HttpClient admin)
    {
        var text = await admin.GetStringAsync("/api/rebuilds");
        return JsonSerializer.Deserialize<RebuildList>(text, WireJson.Options)!.Rebuilds[0];
    }

    /// <summary>Waits until the newest one has ended.</summary>
    public static async Task<Rebuild> EndAsync(HttpClient admin)
    {
        var started = Stopwatch.GetTimestamp();
        while (true)
        {
            var last = await LastAsync(admin);
            if (last.State != RebuildState.Running)
            {
                return last;
            }

            Assert.True(Stopwatch.GetElapsedTime(started) < Patience, $"The rebuild does not end; it is at {last.Phase}.");
            await Task.Delay(20);
        }
    }

    /// <summary>Starts one and waits until it has done.</summary>
    public static async Task<Rebuild> RunAsync(HttpClient admin, bool compareOnly = false)
    {
        await StartAsync(admin, compareOnly);
        var ended = await EndAsync(admin);
        Assert.True(ended.State == RebuildState.Done, ended.Reason);
        return ended;
    }

    /// <summary>Fails unless the live rows were what the facts say.</summary>
    public static void RequireEqual(Rebuild rebuild)
    {
        var found = rebuild.Comparison!;
        Assert.Equal(0, found.DifferingUnits);
        Assert.Equal(0, found.DifferingYields);
        Assert.All(found.Tables, t => Assert.Equal((t.LiveRows, t.LiveHash), (t.RebuiltRows, t.RebuiltHash)));
    }

    /// <summary>Fails if a rebuild has left anything in the database beside the tables that belong there.</summary>
    public static async Task RequireNothingLeftAsync(NpgsqlDataSource database)
    {
        await using var command = database.CreateCommand(
            """
            select (select count(*) from pg_namespace where nspname like 'traceability\_%') + (select count(*) from pg_trigger where tgname like 'rebuild%')
              + (select count(*) from pg_locks where locktype = 'advisory' and objid in (7270002, 7270003) and mode = 'ExclusiveLock' and database = (select oid from pg_database where datname = current_database()))
            """);
        var started = Stopwatch.GetTimestamp();
        while ((long)(await command.ExecuteScalarAsync())! != 0)
        {
            Assert.True(Stopwatch.GetElapsedTime(started) < TimeSpan.FromSeconds(20), "A rebuild has left something behind.");
            await Task.Delay(50);
        }
    }

    /// <summary>Fails unless everything derived says what a fresh judgement of the stored facts says.</summary>
    public static async Task RequireFreshAsync(NpgsqlDataSource database)
    {
        await Tables.SettleAsync(database);
        Tables.RequireNone(await FreshJudgement.DifferencesAsync(database));
        Assert.Equal(string.Empty, string.Join('\n', await Service.Features.Rebuilds.YieldCheck.CheckAsync(database, CancellationToken.None)));
    }
}
