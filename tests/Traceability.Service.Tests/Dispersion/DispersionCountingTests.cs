using CsCheck;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Contracts.Dispersion;
using Traceability.Domain.Dispersion;
using Traceability.Domain.Judging;
using Traceability.Service.Features.Dispersion;
using Traceability.Service.Tests.Scope;
using Traceability.Testing.Building;
using Traceability.Testing.Scope;
using Xunit;

namespace Traceability.Service.Tests.Dispersion;

public sealed class DispersionCountingTests
{
    private const int Cases = 150;

    private static readonly Gen<int[]> Choices = Gen.Int[0, 719].Array[100, 280];

    [Fact]
    public async Task What_is_counted_for_all_lots_and_for_one_is_what_the_judgements_say()
    {
        await using var database = await ScopeDatabase.CreateAsync();
        await Choices.SampleAsync(
            async choices =>
            {
                var records = RandomGenealogy.From(choices, holesMax: 4).Records;
                await database.FillAsync(records);
                await ForgetAsync(database);
                Assert.True(await DispersionCounting.CountAsync(database.Source, Some.Noon, default));

                var page = await PageAsync(database, "?limit=1000");
                var links = Links(records);
                Assert.Equal(
                    links.GroupBy(l => l.Lot, StringComparer.Ordinal).Select(g => (g.Key, g.Count())).OrderBy(g => g.Key, StringComparer.Ordinal),
                    page.Lots.Select(l => ($"{l.Item}/{l.Lot}", l.FinishedUnits)).OrderBy(l => l.Item1, StringComparer.Ordinal));
                Assert.Equal(page.Lots.Select(l => -l.FinishedUnits).Order(), page.Lots.Select(l => -l.FinishedUnits));
                foreach (var item in links.GroupBy(l => l.Lot.Split('/')[0], StringComparer.Ordinal))
                {
                    var expected = BatchDispersion.Of(item);
                    var counted = Assert.Single(page.Items, i => i.Item == item.Key);
                    Assert.Equal(expected, new(counted.Lots, counted.FinishedUnits, counted.Links, counted.LotsPerUnitMost));
                }

                foreach (var lot in page.Lots)
                {
                    var one = await OneAsync(database, lot.Item, lot.Lot);
                    Assert.Equal(
                        (lot.Units, lot.FinishedUnits, lot.Shipped, lot.Shipments, lot.Consignees, lot.UsedFrom, lot.UsedTo),
                        (one!.Lot.Units, one.Lot.FinishedUnits, one.Lot.Shipped, one.Lot.Shipments, one.Lot.Consignees, one.Lot.UsedFrom, one.Lot.UsedTo));
                    Assert.Equal(lot.FinishedUnits, one.Places.Sum(p => p.Units));
                }
            },
            iter: Cases,
            threads: 1,
            print: choices => RandomGenealogy.From(choices, 4).ToString());
    }

    [Fact]
    public async Task Pages_show_every_lot_once_widest_first_also_of_one_item_and_of_a_time()
    {
        await using var database = await ScopeDatabase.CreateAsync();
        await CountedAsync(database, lots: 500);

        var all = await AllAsync(database, string.Empty);
        Assert.Equal(500, all.Count);
        Assert.Equal(all.OrderByDescending(l => l.FinishedUnits).ThenBy(l => l.Item, StringComparer.Ordinal).ThenBy(l => l.Lot, StringComparer.Ordinal), all);

        var item = await AllAsync(database, "&item=I3");
        Assert.Equal(all.Where(l => l.Item == "I3"), item);

        var time = await AllAsync(database, "&from=2026-03-11T00:00:00Z&to=2026-03-12T00:00:00Z");
        Assert.Equal(all.Where(l => l.UsedTo >= new DateTimeOffset(2026, 3, 11, 0, 0, 0, TimeSpan.Zero) && l.UsedFrom < new DateTimeOffset(2026, 3, 12, 0, 0, 0, TimeSpan.Zero)), time);
        Assert.NotEmpty(time);
    }

    [Fact]
    public async Task It_is_counted_again_only_when_something_may_have_changed_and_the_answer_says_so()
    {
        await using var database = await ScopeDatabase.CreateAsync();
        Assert.Null((await PageAsync(database, string.Empty)).CountedAt);
        Assert.True(await DispersionCounting.CountAsync(database.Source, Some.Noon, default));
        Assert.False(await DispersionCounting.CountAsync(database.Source, Some.At(5), default));
        var page = await PageAsync(database, string.Empty);
        Assert.Equal((Some.Noon, true, 0), (page.CountedAt, page.IsCurrent, page.Remarks.Count));

        await database.ExecuteAsync("insert into traceability.rejudge (unit, asked_at) values ('FP-2/9', now())");
        Assert.False((await PageAsync(database, string.Empty)).IsCurrent);
        Assert.True(await DispersionCounting.CountAsync(database.Source, Some.At(6), default));
        Assert.True(await DispersionCounting.CountAsync(database.Source, Some.At(7), default));

        await database.ExecuteAsync("delete from traceability.rejudge");
        Assert.True(await DispersionCounting.CountAsync(database.Source, Some.At(8), default));
        Assert.False(await DispersionCounting.CountAsync(database.Source, Some.At(9), default));
    }

    [Theory]
    [InlineData(2_000)]
    [InlineData(60_000)]
    public async Task Both_answers_look_up_by_an_index_however_many_rows_there_are(int rows)
    {
        await using var database = await ScopeDatabase.CreateAsync();
        await CountedAsync(database, lots: rows);
        await database.ExecuteAsync(
            $"""
            insert into traceability.material_usage (unit, row_id, item, lot, is_one_of, step, record, used_from, used_to)
                select 'U/' || n, 1, 'I3', 'L' || n % {rows / 20}, false, 'BOND', gen_random_uuid(), now(), now() from generate_series(1, {rows}) n;
            insert into traceability.installation (parent, row_id, component, position, record, installed_from)
                select 'V/' || n / 2, n, 'U/' || n, 'P', gen_random_uuid(), now() from generate_series(1, {rows}) n;
            insert into traceability.unit (unit, item, serial, place, has_unreadable, version, judgement)
                select 'V/' || n, 'V', n::text, 'shipped', false, 1, 1 from generate_series(1, {rows}) n;
            analyze
            """);

        var page = await PlanAsync(database, Literal(GetDispersionsEndpoint.Sql(isNext: true, isOfItem: false), "null", "null", "101", "50", "'I3'", "'L50'"));
        Assert.Contains("lot_dispersion_widest", page, StringComparison.Ordinal);
        var item = await PlanAsync(database, Literal(GetDispersionsEndpoint.Sql(isNext: false, isOfItem: true), "null", "null", "101", "'I3'"));
        Assert.Contains("lot_dispersion_item", item, StringComparison.Ordinal);
        var one = await PlanAsync(database, Literal(GetLotDispersionEndpoint.Sql, "'I3'", "'L7'"));
        Assert.Contains("material_usage_lot", one, StringComparison.Ordinal);
        Assert.Contains("installation_component", one, StringComparison.Ordinal);
        Assert.Contains("unit_pkey", one, StringComparison.Ordinal);
        Assert.All([page, item, one], plan => Assert.DoesNotMatch("Seq Scan on (traceability\\.)?(lot_dispersion|material_usage|installation|unit)", plan));
    }

    // From the definition: a unit that names the lot, and the outermost that this one is inside of now.
    private static LotLink[] Links(IReadOnlyCollection<UnitJudgement> records)
    {
        var inside = records.SelectMany(r => r.Installations.Select((i, row) => (Row: row, At: i))).Where(i => i.At.To is null)
            .GroupBy(i => i.At.Component.ToString(), StringComparer.Ordinal)
            .ToDictionary(g => g.Key, g => g.OrderByDescending(i => i.At.From).ThenBy(i => i.Row).ThenBy(i => i.At.Parent.ToString(), StringComparer.Ordinal).First().At.Parent.ToString(), StringComparer.Ordinal);
        return
        [
            .. records.SelectMany(r => r.Usages.Select(u => new LotLink(u.Lot.ToString(), Outermost(r.Unit.ToString())))).Distinct(),
        ];

        string Outermost(string unit) => inside.TryGetValue(unit, out var parent) ? Outermost(parent) : unit;
    }

    private static Task CountedAsync(ScopeDatabase database, int lots) => database.ExecuteAsync(
        $"""
        insert into traceability.lot_dispersion (item, lot, units, finished, shipped, shipments, consignees, used_from, used_to)
        select 'I' || n % 7, 'L' || n, n, n % 100, 0, 0, 0, timestamptz '2026-03-01Z' + n % 20 * interval '1 day', timestamptz '2026-03-02Z' + n % 20 * interval '1 day'
        from generate_series(1, {lots}) n
        """);

    private static Task ForgetAsync(ScopeDatabase database) => database.ExecuteAsync("update traceability.dispersion_count set state = null");

    private static async Task<List<LotDispersion>> AllAsync(ScopeDatabase database, string query)
    {
        var all = new List<LotDispersion>();
        string? after = null;
        do
        {
            var page = await PageAsync(database, $"?limit=37{query}{(after is null ? string.Empty : $"&after={after}")}");
            all.AddRange(page.Lots);
            after = page.After;
        }
        while (after is not null);
        return all;
    }

    private static async Task<LotDispersions> PageAsync(ScopeDatabase database, string query)
    {
        var context = new DefaultHttpContext();
        context.Request.QueryString = new(query);
        var answer = await GetDispersionsEndpoint.HandleAsync(new(null, null, null, null, null), context.Request, database.Answers, default);
        return Assert.IsType<Ok<LotDispersions>>(answer.Result).Value!;
    }

    private static async Task<LotDispersionAnswer?> OneAsync(ScopeDatabase database, string item, string lot) =>
        Assert.IsType<Ok<LotDispersionAnswer>>((await GetLotDispersionEndpoint.HandleAsync(item, lot, database.Answers, TimeProvider.System, default)).Result).Value;

    private static string Literal(string sql, params string[] values) =>
        values.Select((value, i) => (Name: $"${i + 1}", value)).Reverse().Aggregate(sql, (text, p) => text.Replace(p.Name, p.value, StringComparison.Ordinal));

    private static async Task<string> PlanAsync(ScopeDatabase database, string sql)
    {
        await using var command = database.Source.CreateCommand("explain " + sql);
        await using var reader = await command.ExecuteReaderAsync();
        var lines = new List<string>();
        while (await reader.ReadAsync())
        {
            lines.Add(reader.GetString(0));
        }

        return string.Join('\n', lines);
    }
}
