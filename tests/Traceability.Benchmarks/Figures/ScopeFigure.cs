using System.Diagnostics;
using Npgsql;
using Traceability.Benchmarks.Load;

namespace Traceability.Benchmarks.Figures;

/// <summary>Scope of a lot over HTTP beside hand-written SQL, at two sizes of the fleet.</summary>
/// <remarks>
/// Rows are written into the index tables directly: each final unit has one subassembly in it, which used one lot of resin. Half
/// of a lot's members are subassemblies, half the units that they went into. Serial numbers have leading zeros, as those of the demo
/// have and most that are put on a label.
/// </remarks>
internal static class ScopeFigure
{
    private const string Sql =
        """
        with recursive m (unit) as (
          select distinct unit from traceability.material_usage where item = 'RESIN-1' and lot = $1
          union
          select i.parent from m cross join lateral (select parent from traceability.installation where component = m.unit offset 0) i)
        select u.place, count(*) from m cross join lateral (select place from traceability.unit where unit = m.unit offset 0) u group by 1
        """;

    // Large scopes go ways of their own through the service, which it compiles as they are used.
    private const int WarmUp = 30;

    private static readonly (int Members, double Line)[] Sizes = [(100, 3), (5_000, 15), (50_000, 150)];

    public static async Task RunAsync(Bench bench)
    {
        var small = 20_000;
        var large = bench.IsQuick ? 200_000 : 2_000_000;
        await DefineAsync(bench);
        await FillAsync(bench, 0, small);
        var before = await MeasureAsync(bench, small);
        await FillAsync(bench, small, large);
        var after = await MeasureAsync(bench, large);
        foreach (var (members, line) in Sizes)
        {
            bench.Report.Below($"scope of {members:#,##0} members over HTTP, {large:#,##0} units: median", after[members].Http, line, "ms");
            bench.Report.AtMost($"scope of {members:#,##0} members over HTTP, hand-written SQL", after[members].Http, after[members].Sql, "ms", 3);
            if (before.TryGetValue(members, out var then))
            {
                bench.Report.AtMost($"scope of {members:#,##0} members, {large:#,##0} units, {small:#,##0} units", after[members].Http, then.Http, "ms", 1.3);
            }
        }
    }

    // Each suspect lot was there from just before its first use until just after its last, as lots of a running line are.
    private static async Task DefineAsync(Bench bench)
    {
        List<string> facts = [Fact(1, "item-defined", 0, "\"item\":\"RESIN-1\",\"kind\":\"consumable\",\"description\":\"Resin\"")];
        foreach (var (lot, first, last) in new[] { ("M100", 0, 49), ("M5000", 50, 2_549), ("M50000", 20_000, 44_999) })
        {
            var key = $"\"lot\":{{\"item\":\"RESIN-1\",\"lot\":\"{lot}\"}}";
            facts.Add(Fact(facts.Count + 1, "lot-received", first, key + ",\"isReleased\":true"));
            facts.Add(Fact(facts.Count + 1, "lot-emptied", last + 1, key));
        }

        await bench.PostBatchAsync(facts);
    }

    private static string Fact(int number, string type, int second, string members) =>
        $$"""{"factId":"{{new Guid(number, 7, 7, new byte[8])}}","type":"{{type}}","occurredAt":"{{new DateTime(2026, 1, 1).AddSeconds(second):yyyy-MM-ddTHH:mm:ss}}Z",{{members}}}""";

    // Numbers from..to of finals; the suspect lots are the first ones, the largest only where the fleet is large enough.
    private static async Task FillAsync(Bench bench, int from, int to)
    {
        var range = $"generate_series({from.ToString(CultureInfo.InvariantCulture)}, {(to - 1).ToString(CultureInfo.InvariantCulture)}) i";
        var lot = "case when i < 50 then 'M100' when i < 2550 then 'M5000' when i >= 20000 and i < 45000 then 'M50000' else 'R' || (i / 500) end";
        const string Serial = "lpad(i::text, 7, '0')";
        const string At = "timestamptz '2026-01-01' + i * interval '1 second'";
        foreach (var (item, place) in new[] { ("FINAL-1", "shipped"), ("SUB-1", "installed") })
        {
            await bench.ExecuteAsync(bench.ServiceDatabase, $"insert into traceability.unit (unit, item, serial, opened_at, place, has_unreadable, version, judgement) select '{item}/' || {Serial}, '{item}', {Serial}, {At}, '{(item == "SUB-1" ? "in-stock" : place)}', false, 3, 1 from {range}");
        }

        await bench.ExecuteAsync(bench.ServiceDatabase, $"insert into traceability.material_usage (unit, row_id, item, lot, is_one_of, step, record, requirement, used_from, used_to, station) select 'SUB-1/' || {Serial}, i, 'RESIN-1', {lot}, false, 'POT', md5(i::text)::uuid, 'RESIN', {At}, {At}, 'ST-01' from {range}");
        await bench.ExecuteAsync(bench.ServiceDatabase, $"insert into traceability.installation (parent, row_id, component, position, step, record, installed_from, uncertainty) select 'FINAL-1/' || {Serial}, i, 'SUB-1/' || {Serial}, 'BODY', 'JOIN', md5(i::text)::uuid, {At} + interval '1 hour', interval '2 seconds' from {range}");
        await bench.ExecuteAsync(bench.ServiceDatabase, "vacuum analyze traceability.unit, traceability.material_usage, traceability.installation");
    }

    private static async Task<Dictionary<int, (double Http, double Sql)>> MeasureAsync(Bench bench, int fleet)
    {
        var measured = new Dictionary<int, (double, double)>();
        using var http = await RawConnection.OpenAsync(bench.Service.At);
        await using var connection = new NpgsqlConnection(bench.ServiceDatabase);
        await connection.OpenAsync();
        await http.WarmUpAsync(Requests.Get("/api/lots/RESIN-1/R10/scope", bench.Key));
        foreach (var (members, _) in Sizes.Where(s => s.Members < fleet))
        {
            var request = Requests.Get($"/api/lots/RESIN-1/M{members.ToString(CultureInfo.InvariantCulture)}/scope", bench.Key);
            await using var command = new NpgsqlCommand(Sql, connection) { Parameters = { new() { Value = $"M{members.ToString(CultureInfo.InvariantCulture)}" } } };
            await command.PrepareAsync();
            var (viaHttp, viaSql) = (new List<double>(), new List<double>());
            for (var i = 0; i < WarmUp + (bench.IsQuick ? 25 : 60); i++)
            {
                var started = Stopwatch.GetTimestamp();
                if (await http.SendAsync(request) is not 200)
                {
                    throw new InvalidOperationException($"Scope was answered {http.LastAnswer[..Math.Min(1000, http.LastAnswer.Length)]}");
                }

                viaHttp.Add(Stopwatch.GetElapsedTime(started).TotalMilliseconds);
                started = Stopwatch.GetTimestamp();
                await using (var reader = await command.ExecuteReaderAsync())
                {
                    var found = 0L;
                    while (await reader.ReadAsync())
                    {
                        found += reader.GetInt64(1);
                    }

                    if (found != members)
                    {
                        throw new InvalidOperationException($"The hand-written query found {found} members of {members}.");
                    }
                }

                viaSql.Add(Stopwatch.GetElapsedTime(started).TotalMilliseconds);
            }

            if (!http.LastAnswer.Contains($"{members.ToString(CultureInfo.InvariantCulture)}", StringComparison.Ordinal))
            {
                throw new InvalidOperationException($"The answer does not have {members} members: {http.LastAnswer[..Math.Min(1000, http.LastAnswer.Length)]}");
            }

            measured[members] = (Middle(viaHttp), Middle(viaSql));
        }

        return measured;
    }

    private static double Middle(List<double> values) => values.Skip(WarmUp).Order().ElementAt((values.Count - WarmUp) / 2);
}
