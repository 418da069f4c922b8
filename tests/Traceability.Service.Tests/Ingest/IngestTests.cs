using System.Security.Cryptography;
using System.Text;
using Marten;
using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Traceability.Domain.Facts;
using Traceability.Domain.Items;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Sites;
using Traceability.Service.Ingest;
using Traceability.Service.Storage;
using Traceability.Testing;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Service.Tests.Ingest;

/// <summary>The way into the store: what is acknowledged is stored once, in order, and the event store reads it.</summary>
public sealed class IngestTests : IAsyncLifetime
{
    private const long CommitLock = 7_270_002;
    private static int ids;
    private ServiceHost _host = null!;

    private IIngest Ingest => _host.App.Services.GetRequiredService<IIngest>();

    public async Task InitializeAsync()
    {
        _host = await ServiceHost.StartAsync("--Ingest:QueueMax=40", "--Ingest:CachedUnitsMax=10");
        await DefineAsync(Ingest);
    }

    public async Task DisposeAsync() => await _host.DisposeAsync();

    [Fact]
    public async Task The_event_store_reads_back_what_the_appender_wrote()
    {
        var unit = Some.Unit("LAMP", "1");
        Fact[] facts =
        [
            Opened(unit),
            new StepRecord(unit, "BOND", Some.At(5)).Used("ADH", "L1", quantity: Some.Quantity(0.40m, "g")).Fact,
            new StepRecord(unit, "CLOSE", Some.At(9)).Measured("TORQUE", 1.50m, "N.m").Measured("GAP", 3E-3m, "mm").Tool("SD-1", "5").Fact,
        ];
        foreach (var fact in facts)
        {
            await RecordAsync(Ingest, fact);
        }

        await using var session = _host.App.Services.GetRequiredService<IDocumentStore>().LightweightSession();
        var events = await session.Events.FetchStreamAsync(StreamNames.Of(unit));
        var state = await session.Events.FetchStreamStateAsync(StreamNames.Of(unit));

        Assert.Equal([1L, 2L, 3L], events.Select(e => e.Version));
        Assert.Equal(["unit_opened", "step_completed", "step_completed"], events.Select(e => e.EventTypeName));
        Assert.Equal(facts.Select(f => f.GetType()), events.Select(e => e.EventType));
        Assert.Equal(facts.Select(FactCodec.Serialize), events.Select(e => FactCodec.Serialize((Fact)e.Data)));
        Assert.Equal(3, state!.Version);
        Assert.True(events.Select(e => e.Sequence).SequenceEqual(events.Select(e => e.Sequence).Order()));
    }

    [Fact]
    public async Task The_event_store_can_append_to_a_stream_that_the_appender_wrote()
    {
        var unit = Some.Unit("LAMP", "1");
        await RecordAsync(Ingest, Opened(unit));
        await using (var session = _host.App.Services.GetRequiredService<IDocumentStore>().LightweightSession())
        {
            session.Events.Append(StreamNames.Of(unit), 2, new StepRecord(unit, "BOND", Some.At(5)).Fact);
            await session.SaveChangesAsync();
        }

        // The service holds the unit as it was; the database says otherwise, so it plans anew.
        var third = await RecordAsync(Ingest, new StepRecord(unit, "CLOSE", Some.At(9)).Fact);

        Assert.Equal(3, third.Version);
    }

    [Fact]
    public async Task Thirty_two_posts_of_one_fact_at_once_store_it_once()
    {
        var unit = Some.Unit("LAMP", "1");
        await RecordAsync(Ingest, Opened(unit));
        var posted = Posted(new StepRecord(unit, "BOND", Some.At(5)).Fact);

        var answers = await Task.WhenAll(Enumerable.Range(0, 32).Select(_ => Ingest.SubmitAsync(posted, default)));

        var recorded = answers.Cast<IngestAnswer.Recorded>().ToArray();
        Assert.Single(recorded, r => !r.IsRepeat);
        Assert.All(recorded, r => Assert.Equal(2, r.Version));
        Assert.Equal(2, await CountAsync("events.mt_events", unit));
        Assert.Equal(1, await ScalarAsync<long>($"select count(*) from traceability.receipt where fact_id = '{posted.Id}'"));
    }

    [Fact]
    public async Task A_fact_sent_again_later_is_answered_as_before_and_stored_once()
    {
        var unit = Some.Unit("LAMP", "1");
        await RecordAsync(Ingest, Opened(unit));
        var posted = Posted(new StepRecord(unit, "CLOSE", Some.At(5)).Measured("TORQUE", 9m, "N.m").Fact);
        var first = (IngestAnswer.Recorded)await Ingest.SubmitAsync(posted, default);
        await RecordAsync(Ingest, new StepRecord(unit, "BOND", Some.At(6)).Fact);

        var again = (IngestAnswer.Recorded)await Ingest.SubmitAsync(posted, default);
        var other = await Ingest.SubmitAsync(posted with { ContentHash = SHA256.HashData("other"u8) }, default);

        Assert.True(again.IsRepeat);
        Assert.Equal((first.Version, first.RecordedAt), (again.Version, again.RecordedAt));
        Assert.NotEmpty(first.Findings);
        Assert.Equal(first.Findings.Select(f => f.Message), again.Findings.Select(f => f.Message));
        Assert.Equal("fact-id-reused", ((IngestAnswer.Refused)other).Reason.Code);
        Assert.Equal(3, await CountAsync("events.mt_events", unit));
    }

    [Fact]
    public async Task A_repeat_in_a_group_takes_no_other_fact_with_it()
    {
        UnitKey[] units = [.. Enumerable.Range(1, 12).Select(i => Some.Unit("LAMP", $"{i}"))];
        var openings = units.Select(u => Posted(Opened(u))).ToArray();
        var half = openings.Take(6).ToArray();
        await Task.WhenAll(half.Select(p => Ingest.SubmitAsync(p, default)));

        var answers = await Task.WhenAll(openings.Select(p => Ingest.SubmitAsync(p, default)));

        Assert.Equal(Enumerable.Range(0, 12).Select(i => i < 6), answers.Select(a => ((IngestAnswer.Recorded)a).IsRepeat));
        Assert.Equal(12, await ScalarAsync<long>("select count(*) from events.mt_events where type = 'unit_opened'"));
    }

    [Fact]
    public async Task Two_services_on_one_database_lose_and_double_nothing()
    {
        UnitKey[] units = [.. Enumerable.Range(1, 3).Select(i => Some.Unit("LAMP", $"{i}"))];
        foreach (var unit in units)
        {
            await RecordAsync(Ingest, Opened(unit));
        }

        await using var second = await TraceabilityService.CreateAsync(
        [
            "--urls", "http://127.0.0.1:0", $"--ConnectionStrings:Traceability={_host.ConnectionString}", "--Postgres:AllowUnsafeDurability=true",
            $"--Postgres:DataFolder={_host.DataFolder}", "--Logging:LogLevel:Default=Warning",
        ]);
        await second.App.StartAsync();
        IIngest[] ways = [Ingest, second.App.Services.GetRequiredService<IIngest>()];
        var facts = Enumerable.Range(0, 30).Select(i => Posted(new StepRecord(units[i % 3], "BOND", Some.At(10 + i)).Rework().Fact)).ToArray();

        // Each fact goes both ways, as a terminal does that fails over to another address.
        var answers = await Task.WhenAll(facts.SelectMany(f => ways.Select(w => Task.Run(() => w.SubmitAsync(f, default)))));
        await second.App.StopAsync();

        var recorded = answers.Cast<IngestAnswer.Recorded>().ToArray();
        Assert.Equal(30, recorded.Count(r => !r.IsRepeat));
        Assert.All(recorded.GroupBy(r => r.Posted.Id), g => Assert.Single(g.Select(r => (r.Stream, r.Version)).Distinct()));
        foreach (var unit in units)
        {
            Assert.Equal(11, await CountAsync("events.mt_events", unit));
            Assert.Equal(
                "1,2,3,4,5,6,7,8,9,10,11",
                await ScalarAsync<string>($"select string_agg(version::text, ',' order by version) from events.mt_events where stream_id = '{StreamNames.Of(unit)}'"));
            Assert.Equal(11, await ScalarAsync<int>($"select version from traceability.unit where unit = '{unit}'"));
            Assert.Equal(10, await ScalarAsync<long>($"select count(*) from traceability.step_result where unit = '{unit}'"));
        }

        // The counters, folded or not, say what the rows say: none lost, none twice.
        Assert.Equal(
            30,
            await ScalarAsync<long>("select (select coalesce(sum(attempts), 0) from traceability.step_yield_change)::bigint + (select coalesce(sum(attempts), 0) from traceability.step_yield_day)::bigint"));
    }

    [Fact]
    public async Task A_fact_that_the_database_refuses_fails_alone()
    {
        // Many times: what an error leaves behind in a connection shows at a later use, and not at each.
        for (var round = 0; round < 25; round++)
        {
            var unit = Some.Unit("LAMP", $"{round}-1");
            await RecordAsync(Ingest, Opened(unit));

            // PostgreSQL's jsonb has no character zero; the reader of requests refuses it before, so it goes in behind.
            var bad = Posted(new StepRecord(unit, "BOND", Some.At(5)).Fact with { Note = "\0" });
            var good = Enumerable.Range(2, 20).Select(i => Posted(Opened(Some.Unit("LAMP", $"{round}-{i}")))).ToArray();

            var answers = await Task.WhenAll(good.Take(10).Append(bad).Concat(good.Skip(10)).Select(p => Ingest.SubmitAsync(p, default)));

            Assert.IsType<IngestAnswer.Unavailable>(answers[10]);
            Assert.Equal(20, answers.OfType<IngestAnswer.Recorded>().Count());
            Assert.Equal(1, await CountAsync("events.mt_events", unit));
            Assert.Equal(2, (await RecordAsync(Ingest, new StepRecord(unit, "BOND", Some.At(6)).Fact)).Version);
        }
    }

    [Fact]
    public async Task A_full_queue_tells_senders_to_come_back_and_takes_facts_again_when_it_is_empty()
    {
        await using var connection = await _host.Database.OpenConnectionAsync();
        await ExecuteAsync(connection, $"select pg_advisory_lock({CommitLock})");
        var facts = Enumerable.Range(1, 60).Select(i => Posted(Opened(Some.Unit("LAMP", $"{i}")))).ToArray();

        var waiting = facts.Select(f => Ingest.SubmitAsync(f, default)).ToArray();
        var refused = waiting.Where(w => w.IsCompleted).Select(w => w.Result).ToArray();
        await ExecuteAsync(connection, $"select pg_advisory_unlock({CommitLock})");
        var answers = await Task.WhenAll(waiting);
        var again = await Task.WhenAll(facts.Skip(40).Select(f => Ingest.SubmitAsync(f, default)));

        Assert.Equal(20, refused.Length);
        Assert.All(refused, r => Assert.IsType<IngestAnswer.Unavailable>(r));
        Assert.Equal(40, answers.OfType<IngestAnswer.Recorded>().Count());
        Assert.All(again, a => Assert.IsType<IngestAnswer.Recorded>(a));
        Assert.Equal(60, await ScalarAsync<long>("select count(*) from events.mt_events where type = 'unit_opened'"));
    }

    [Fact]
    public async Task A_definition_made_through_another_service_is_seen_by_the_next_fact()
    {
        var unit = Some.Unit("LAMP", "1");
        await RecordAsync(Ingest, Opened(unit));
        await using var second = await TraceabilityService.CreateAsync(
        [
            "--urls", "http://127.0.0.1:0", $"--ConnectionStrings:Traceability={_host.ConnectionString}", "--Postgres:AllowUnsafeDurability=true",
            $"--Postgres:DataFolder={_host.DataFolder}", "--Logging:LogLevel:Default=Warning",
        ]);
        await second.App.StartAsync();
        await RecordAsync(second.App.Services.GetRequiredService<IIngest>(), new StationDefined(StationCode.Parse("ST-9"), SiteCode.Parse("MAIN"), "Bench") { OccurredAt = Some.Noon });

        var answer = await Ingest.SubmitAsync(Posted(new StepRecord(unit, "BOND", Some.At(5)).AtStation("ST-9").Fact), default);
        await second.App.StopAsync();

        Assert.IsType<IngestAnswer.Recorded>(answer);
    }

    private static async Task DefineAsync(IIngest ingest)
    {
        await RecordAsync(ingest, new SiteDefined(SiteCode.Parse("MAIN"), "Works", "Europe/Lisbon") { OccurredAt = Some.Noon });
        await RecordAsync(ingest, new StationDefined(Some.Station, SiteCode.Parse("MAIN"), "Bench") { OccurredAt = Some.Noon });
        await RecordAsync(ingest, new ItemDefined(ItemNumber.Parse("LAMP"), ItemKind.Product, "Lamp", [], null) { OccurredAt = Some.Noon });
        var routing = new RoutingBuilder("LAMP").Step("BOND").Step("CLOSE", s => s.Measure("TORQUE", "N.m", 1m, 2m)).Build();
        await RecordAsync(ingest, new Domain.Routings.RoutingDrafted(routing) { OccurredAt = Some.Noon });
        await RecordAsync(ingest, new Domain.Routings.RoutingReleased(routing.Item, routing.Revision, null) { OccurredAt = Some.Noon });
    }

    private static UnitOpened Opened(UnitKey unit) => new(unit, null, [], null) { OccurredAt = Some.Noon, Station = Some.Station, Person = Some.Person };

    private static PostedFact Posted(Fact fact) =>
        new(Some.Id(Interlocked.Increment(ref ids)), SHA256.HashData(Encoding.UTF8.GetBytes(FactCodec.Serialize(fact))), fact);

    private static async Task<IngestAnswer.Recorded> RecordAsync(IIngest ingest, Fact fact)
    {
        var answer = await ingest.SubmitAsync(Posted(fact), default);
        return answer as IngestAnswer.Recorded ?? throw new InvalidOperationException(answer.ToString());
    }

    private static async Task ExecuteAsync(NpgsqlConnection connection, string sql)
    {
        await using var command = new NpgsqlCommand(sql, connection);
        await command.ExecuteNonQueryAsync();
    }

    private Task<long> CountAsync(string table, UnitKey unit) => ScalarAsync<long>($"select count(*) from {table} where stream_id = '{StreamNames.Of(unit)}'");

    private async Task<T> ScalarAsync<T>(string sql)
    {
        await using var command = _host.Database.CreateCommand(sql);
        return (T)(await command.ExecuteScalarAsync())!;
    }
}
