using System.Diagnostics;
using Npgsql;
using Traceability.Benchmarks.Figures;
using Traceability.Benchmarks.Load;

namespace Traceability.Benchmarks.Scopes;

/// <summary>What one question took at one size of the fleet, in ms.</summary>
/// <param name="Fleet">Finals.</param>
/// <param name="Members">Proven members of the scope; a few possible ones come on top, which the hand-written SQL does not look for.</param>
/// <param name="Cold">The first time after a restart of both servers, over HTTP.</param>
/// <param name="ColdSql">The first time after a restart, by hand-written SQL.</param>
/// <param name="Warm">Median over HTTP.</param>
/// <param name="Warm99">99th percentile over HTTP.</param>
/// <param name="WarmSql">Median by hand-written SQL.</param>
internal sealed record ScopeTimes(int Fleet, int Members, double Cold, double ColdSql, double Warm, double Warm99, double WarmSql);

/// <summary>What a question by one kind of suspect took over HTTP at one size of the fleet, in ms.</summary>
internal sealed record QuestionTimes(int Fleet, string Name, double Median, double P99);

/// <summary>Asks for scopes of known size over HTTP, and the same by hand-written SQL.</summary>
internal sealed class ScopesMeasure(Bench bench)
{
    // Each kind of question goes ways of its own through the service, which it compiles as they are used.
    private const int WarmUp = 100;

    // Every component is looked up by its key: written as a plain join, the planner reads the whole table.
    private const string Sql =
        """
        with recursive m (unit) as (
          select distinct unit from traceability.material_usage where item = 'RESIN-1' and lot = $1
          union
          select i.parent from m cross join lateral (select parent from traceability.installation where component = m.unit offset 0) i)
        select u.place, count(*) from m cross join lateral (select place from traceability.unit where unit = m.unit offset 0) u group by 1
        """;

    /// <summary>Measures all sizes of scope that the fleet has.</summary>
    public async Task<IReadOnlyList<ScopeTimes>> RunAsync(int fleet, IEnumerable<int> sizes)
    {
        var measured = new List<ScopeTimes>();
        foreach (var members in sizes.Where(m => ScopesFill.FinalsFor(m) <= fleet))
        {
            var lot = string.Create(CultureInfo.InvariantCulture, $"M{members}");
            await bench.RestartAsync();
            var cold = await FirstOverHttpAsync(lot, members);
            var (warm, warm99) = await WarmOverHttpAsync(lot, members);
            await bench.RestartAsync();
            var (coldSql, warmSql) = await BySqlAsync(lot, members);
            measured.Add(new(fleet, members, cold, coldSql, warm, warm99, warmSql));
            Console.WriteLine(measured[^1]);
        }

        return measured;
    }

    /// <summary>Measures the questions by other suspects than a lot, warm.</summary>
    public async Task<IReadOnlyList<QuestionTimes>> AskAllAsync(int fleet)
    {
        var measured = new List<QuestionTimes>();
        using var http = await RawConnection.OpenAsync(bench.Service.At);
        foreach (var (name, json) in ScopesFill.Questions)
        {
            var request = Requests.Post("/api/scopes", bench.Key, "-", $"{{\"suspect\":{json}}}");
            var times = new List<double>();
            for (var i = 0; i < WarmUp + 150; i++)
            {
                times.Add(await AskAsync(http, request, ScopesFill.QuestionMembers));
            }

            double[] sorted = [.. times.Skip(WarmUp).Order()];
            measured.Add(new(fleet, name, sorted[sorted.Length / 2], sorted[(int)(sorted.Length * 0.99)]));
            Console.WriteLine(measured[^1]);
        }

        return measured;
    }

    // Another lot first: what is measured is this lot's pages, not the compiling of the service.
    private async Task<double> FirstOverHttpAsync(string lot, int members)
    {
        using var http = await RawConnection.OpenAsync(bench.Service.At);
        for (var i = 0; i < 30; i++)
        {
            await AskAsync(http, ScopesFill.Other, null);
        }

        return await AskAsync(http, lot, members);
    }

    private async Task<(double Median, double P99)> WarmOverHttpAsync(string lot, int members)
    {
        using var http = await RawConnection.OpenAsync(bench.Service.At);
        var times = new List<double>();
        await http.WarmUpAsync(Scope(ScopesFill.Other));
        for (var i = 0; i < (members > 10_000 ? 60 : 300); i++)
        {
            times.Add(await AskAsync(http, lot, members));
        }

        double[] sorted = [.. times.Skip(times.Count / 5).Order()];
        return (sorted[sorted.Length / 2], sorted[(int)(sorted.Length * 0.99)]);
    }

    private Task<double> AskAsync(RawConnection http, string lot, int? members) =>
        AskAsync(http, Scope(lot), members);

    private byte[] Scope(string lot) => Requests.Get($"/api/lots/{ScopesFill.Item}/{lot}/scope", bench.Key);

    private static async Task<double> AskAsync(RawConnection http, ReadOnlyMemory<byte> request, int? members)
    {
        var started = Stopwatch.GetTimestamp();
        var status = await http.SendAsync(request);
        var took = Stopwatch.GetElapsedTime(started).TotalMilliseconds;
        if (status is not 200 || (members is { } count && !http.LastAnswer.Contains(string.Create(CultureInfo.InvariantCulture, $"\"proven\":{count},"), StringComparison.Ordinal)))
        {
            throw new InvalidOperationException($"Not a scope of {members} proven members: {http.LastAnswer[..Math.Min(1000, http.LastAnswer.Length)]}");
        }

        return took;
    }

    private async Task<(double Cold, double Warm)> BySqlAsync(string lot, int members)
    {
        await using var connection = new NpgsqlConnection(bench.ServiceDatabase);
        await connection.OpenAsync();
        await using var command = new NpgsqlCommand(Sql, connection) { Parameters = { new() { Value = lot } } };
        await command.PrepareAsync();
        for (var i = 0; i < 30; i++)
        {
            command.Parameters[0].Value = ScopesFill.Other;
            await CountAsync(command);
        }

        command.Parameters[0].Value = lot;
        var times = new List<double>();
        for (var i = 0; i < 60; i++)
        {
            var started = Stopwatch.GetTimestamp();
            var found = await CountAsync(command);
            times.Add(Stopwatch.GetElapsedTime(started).TotalMilliseconds);
            if (found != members)
            {
                throw new InvalidOperationException($"The hand-written query found {found} members of {members}.");
            }
        }

        return (times[0], times.Skip(10).Order().ElementAt(25));
    }

    private static async Task<long> CountAsync(NpgsqlCommand command)
    {
        await using var reader = await command.ExecuteReaderAsync();
        var found = 0L;
        while (await reader.ReadAsync())
        {
            found += reader.GetInt64(1);
        }

        return found;
    }
}
