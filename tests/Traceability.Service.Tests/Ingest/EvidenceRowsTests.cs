using System.Security.Cryptography;
using System.Text;
using Microsoft.Extensions.DependencyInjection;
using Traceability.Domain.Facts;
using Traceability.Domain.Items;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Sites;
using Traceability.Service.Ingest;
using Traceability.Service.Storage;
using Traceability.Testing;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Service.Tests.Ingest;

/// <summary>The rows that a suspect condition is looked up in: what was measured, how long intervals were, which work is missing.</summary>
public sealed class EvidenceRowsTests : IAsyncLifetime
{
    private static readonly UnitKey Lamp = Some.Unit("LAMP", "1");
    private ServiceHost _host = null!;
    private int _ids;

    private IIngest Ingest => _host.App.Services.GetRequiredService<IIngest>();

    public async Task InitializeAsync()
    {
        _host = await ServiceHost.StartAsync();
        var story = new UnitStory(Lamp)
            .Routing(new RoutingBuilder("LAMP")
                .Step("GLUE", s => s.AtStations("ST-1", "ST-2").Check("CLEAN"))
                .Step("COVER", s => s.After("GLUE").Tool("DRIVER", "SCREWDRIVER").Measure("TORQUE", "N.m", 1.1m, 1.3m))
                .Step("TEST", s => s.After("COVER"))
                .Interval("CURE", "GLUE.completed", "COVER.started", 8))
            .Tool("SD-1", "SCREWDRIVER")
            .Open();
        await RecordAsync(new ItemDefined(Lamp.Item, ItemKind.Product, "Lamp", [], null) { OccurredAt = Some.At(-20_000) });
        await RecordAsync(new SiteDefined(SiteCode.Parse("MAIN"), "Works", "Europe/Lisbon") { OccurredAt = Some.At(-20_000) });
        foreach (var station in new[] { "ST-1", "ST-2" })
        {
            await RecordAsync(new StationDefined(StationCode.Parse(station), SiteCode.Parse("MAIN"), "Bench") { OccurredAt = Some.At(-20_000) });
        }

        foreach (var fact in story.Streams.Values.SelectMany(f => f).Concat(story.Facts))
        {
            await RecordAsync(fact.Fact);
        }
    }

    public async Task DisposeAsync() => await _host.DisposeAsync();

    [Fact]
    public async Task Rows_say_what_was_measured_and_how_long_an_interval_was()
    {
        await GlueAsync();
        var record = await RecordAsync(Cover("1.0"));

        Assert.Equal(
            [$"COVER 1 {record} TORQUE 1.0 N.m 1 L2.M.T-2 0.04 f ST-1", "GLUE 1 CLEAN t ST-1"],
            await LinesAsync(
                """
                select concat_ws(' ', step, attempt, case when value is not null then record end, characteristic, value, magnitude, dimension, uncertainty, passed, station)
                from traceability.measurement where item = 'LAMP' and used_from < used_to
                """));
        Assert.Equal(
            ["CURE GLUE COVER 00:09:59 00:10:01 kept ST-1"],
            await LinesAsync("select concat_ws(' ', rule, from_step, to_step, least, most, verdict, station) from traceability.interval_result"));
        Assert.Equal(["COVER 600 660", "GLUE -61 1"], await LinesAsync(
            "select concat_ws(' ', step, extract(epoch from earliest - '2026-03-02T12:00:00Z')::int, extract(epoch from latest - '2026-03-02T12:00:00Z')::int) from traceability.step_result"));
        Assert.Empty(await GapsAsync());
        await RequireAllAsync();
    }

    [Fact]
    public async Task Rows_follow_a_correction_a_void_and_the_work_done_again()
    {
        await GlueAsync();
        var record = await RecordAsync(Cover("1.0"));
        await RecordAsync(new RecordCorrected(record, Cover("1.2"), "misread", Some.Quality) { OccurredAt = Some.At(20), Clock = Some.RightClock });
        Assert.Equal(["1.2 t"], await LinesAsync("select concat_ws(' ', magnitude, passed) from traceability.measurement where characteristic = 'TORQUE'"));

        await RecordAsync(new RecordVoided(record, "entered on the wrong unit", Some.Quality) { OccurredAt = Some.At(30), Clock = Some.RightClock });
        Assert.Empty(await LinesAsync("select value from traceability.measurement where characteristic = 'TORQUE'"));
        Assert.Empty(await LinesAsync("select rule from traceability.interval_result"));
        Assert.Equal(
            ["characteristic voided COVER TORQUE", "interval voided COVER CURE", "step voided COVER", "tool voided COVER DRIVER SCREWDRIVER"],
            await GapsAsync());
        await RequireAllAsync();

        await RecordAsync(Cover("1.25"));
        Assert.Equal(["1.25 t"], await LinesAsync("select concat_ws(' ', magnitude, passed) from traceability.measurement where characteristic = 'TORQUE'"));
        Assert.Empty(await GapsAsync());
        await RequireAllAsync();
    }

    [Fact]
    public async Task Work_that_nobody_recorded_is_a_row_with_the_stations_where_it_can_have_been_done()
    {
        await RecordAsync(new StepRecord(Lamp, "COVER", Some.At(11)).By(null).Fact);

        Assert.Equal(
            ["characteristic not-recorded COVER TORQUE", "interval not-recorded COVER CURE", "step step-not-recorded GLUE", "tool not-recorded COVER DRIVER SCREWDRIVER"],
            (await GapsAsync()).Where(g => g != "characteristic step-not-recorded GLUE CLEAN"));
        Assert.Equal(["- - ST-1 ST-2"], await LinesAsync("select concat_ws(' ', coalesce(station, '-'), coalesce(person, '-'), stations) from traceability.work_gap where kind = 'step'"));
        Assert.Equal(["ST-1 -"], await LinesAsync("select distinct concat_ws(' ', station, coalesce(person, '-')) from traceability.work_gap where reason = 'not-recorded'"));
        Assert.Equal(["- - - undetermined"], await LinesAsync(
            "select concat_ws(' ', coalesce(from_record::text, '-'), coalesce(least::text, '-'), coalesce(most::text, '-'), verdict) from traceability.interval_result"));
        await RequireAllAsync();
    }

    // As the migration leaves the units that were stored before it.
    [Fact]
    public async Task A_unit_that_was_stored_before_gets_its_rows_when_it_is_judged_again()
    {
        await GlueAsync();
        await RecordAsync(Cover("1.2"));
        await ExecuteAsync(
            """
            delete from traceability.measurement; delete from traceability.interval_result; delete from traceability.work_gap;
            update traceability.step_result set row_id = row_id + 1, earliest = '-infinity', latest = 'infinity';
            update traceability.unit set judgement = judgement + 1;
            insert into traceability.rejudge (unit, asked_at) select unit, now() from traceability.unit
            """);

        for (var tries = 0; (await LinesAsync("select unit from traceability.rejudge")).Count > 0; tries++)
        {
            Assert.True(tries < 300, "The unit still waits to be judged again.");
            await Task.Delay(100);
        }

        Assert.Equal(2, (await LinesAsync("select characteristic from traceability.measurement")).Count);
        Assert.Empty(await LinesAsync("select step from traceability.step_result where earliest = '-infinity' or latest = 'infinity'"));
        await RequireAllAsync();
    }

    private static StepCompleted Cover(string torque) => new StepRecord(Lamp, "COVER", Some.At(11)).Tool("SD-1")
        .Measured("TORQUE", decimal.Parse(torque, System.Globalization.CultureInfo.InvariantCulture), "N.m", standardUncertainty: 0.02m).Fact;

    private async Task GlueAsync() =>
        await RecordAsync(new StepRecord(Lamp, "GLUE", Some.At(0)).Checked("CLEAN").Clock(new(TimeSpan.Zero, TimeSpan.FromSeconds(1), false)).Fact);

    private async Task<Guid> RecordAsync(Fact fact)
    {
        var id = Some.Id(++_ids);
        var answer = await Ingest.SubmitAsync(new(id, SHA256.HashData(Encoding.UTF8.GetBytes(FactCodec.Serialize(fact))), fact), default);
        return answer is IngestAnswer.Recorded ? id : throw new InvalidOperationException(answer.ToString());
    }

    private Task<List<string>> GapsAsync() =>
        LinesAsync("select concat_ws(' ', kind, reason, step, requirement, tool_class) from traceability.work_gap");

    // The rows that are stored are those of a judgement made anew, in every table.
    private async Task RequireAllAsync()
    {
        await using var connection = await _host.Database.OpenConnectionAsync();
        var names = await LinesAsync("select distinct stream_id from events.mt_events");
        var streams = await EventReader.LoadAsync(connection, names, default);
        var references = References.None.With(streams.Select(s => new KeyValuePair<string, object>(s.Key, References.Fold(s.Key, s.Value)!)).Where(s => s.Value is not null));
        var rows = UnitRows.Of(Judge.Unit(ProductUnit.Of(Lamp, streams[StreamNames.Of(Lamp)]), references));
        foreach (var (table, name) in new[]
        {
            (UnitTable.StepResult, "step_result"), (UnitTable.Measurement, "measurement"), (UnitTable.IntervalResult, "interval_result"), (UnitTable.WorkGap, "work_gap"),
        })
        {
            Assert.Equal(
                rows.Ids(table).Select(i => i.ToString(System.Globalization.CultureInfo.InvariantCulture)).Order(StringComparer.Ordinal),
                await LinesAsync($"select row_id::text from traceability.{name} where unit = 'LAMP/1'"));
        }
    }

    private async Task ExecuteAsync(string sql)
    {
        await using var command = _host.Database.CreateCommand(sql);
        await command.ExecuteNonQueryAsync();
    }

    private async Task<List<string>> LinesAsync(string sql)
    {
        await using var command = _host.Database.CreateCommand(sql);
        await using var reader = await command.ExecuteReaderAsync();
        List<string> lines = [];
        while (await reader.ReadAsync())
        {
            lines.Add(reader.GetString(0));
        }

        lines.Sort(StringComparer.Ordinal);
        return lines;
    }
}
