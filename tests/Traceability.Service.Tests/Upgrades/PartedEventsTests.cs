using System.Globalization;
using JasperFx;
using Marten;
using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Traceability.Domain.ProductUnits;
using Traceability.Service.Tests.ContractTests;
using Traceability.Service.Tests.Poison;
using Xunit;

namespace Traceability.Service.Tests.Upgrades;

/// <summary>The script deploy/schema/part-events.sql on a service that runs: nothing is lost, refused, or stored twice.</summary>
public sealed class PartedEventsTests
{
    private static readonly string Script = File.ReadAllText(Path.Combine(Repository.Contracts, "..", "deploy", "schema", "part-events.sql"));

    [Fact]
    public async Task Events_are_parted_while_facts_are_recorded_and_every_stream_is_whole()
    {
        await using var shop = await LampShop.StartAsync();
        await shop.BuildAsync("1", "TOUR-L1");
        using var stop = new CancellationTokenSource();
        var writing = WriteAsync(shop, 1_000, stop.Token);
        await LampShop.WithinAsync(async () => await CountAsync(shop, "events.mt_events where stream_id like 'unit/%/1__%'") > 10, "facts are recorded");

        await PartAsync(shop);
        Assert.Equal(["mt_events_first: FROM (MINVALUE) TO ('20000000')", "mt_events_from_20000000: FROM ('20000000') TO (MAXVALUE)"], await PartsAsync(shop));

        // The numbers reach the bound in the midst of recording.
        await shop.ExecuteAsync("select setval('events.mt_events_sequence', 19999990)");
        await LampShop.WithinAsync(async () => await CountAsync(shop, "events.mt_events_from_20000000") > 10, "facts beyond the bound");
        await shop.CloseAsync("1");

        await PartAsync(shop);
        Assert.Equal(
            [
                "mt_events_first: FROM (MINVALUE) TO ('20000000')",
                "mt_events_from_20000000: FROM ('20000000') TO ('40000000')",
                "mt_events_from_40000000: FROM ('40000000') TO (MAXVALUE)",
            ],
            await PartsAsync(shop));
        await shop.ExecuteAsync("select setval('events.mt_events_sequence', 39999990)");
        await LampShop.WithinAsync(async () => await CountAsync(shop, "events.mt_events_from_40000000") > 10, "facts beyond the second bound");
        await stop.CancelAsync();
        var built = await writing;

        Assert.True(built > 10, "Too few were recorded to show anything.");
        Assert.Equal(0, await CountAsync(shop, "events.mt_streams s where s.version <> (select count(*) from events.mt_events e where e.stream_id = s.id) or s.version <> (select max(version) from events.mt_events e where e.stream_id = s.id)"));
        Assert.Equal(0, await CountAsync(shop, "traceability.receipt r where not exists (select from events.mt_events e where e.id = r.fact_id and e.stream_id = r.stream and e.version = r.version)"));
        Assert.Equal(2L * built, await CountAsync(shop, "events.mt_events where stream_id like 'unit/%/1___'"));
        Assert.Equal((long[])[1L, 2L, 3L], await ReadAsync(shop, "1"));
    }

    [Fact]
    public async Task The_version_of_a_stream_that_spans_two_parts_is_still_checked()
    {
        await using var shop = await LampShop.StartAsync();
        await shop.BuildAsync("1", "TOUR-L1");
        await PartAsync(shop);
        await shop.ExecuteAsync("select setval('events.mt_events_sequence', 20000000)");
        var stream = await shop.ScalarAsync<string>("select id from events.mt_streams where id like 'unit/%/1'");
        var store = shop.Host.App.Services.GetRequiredService<IDocumentStore>();
        var second = await FactAsync(store, stream);
        await using (var session = store.LightweightSession())
        {
            session.Events.Append(stream, 3, second);
            await session.SaveChangesAsync();
        }

        // Planned on version 2, which is in the part before: refused, though no unique index spans both.
        await using (var late = store.LightweightSession())
        {
            late.Events.Append(stream, 3, second);
            await Assert.ThrowsAnyAsync<ConcurrencyException>(() => late.SaveChangesAsync());
        }

        // The service holds version 2 in memory; the database says otherwise, so it plans anew.
        await shop.CloseAsync("1");
        Assert.Equal((long[])[1L, 2L, 3L, 4L], await ReadAsync(shop, "1"));
    }

    [Fact]
    public async Task It_is_refused_while_the_newest_part_is_still_ahead()
    {
        await using var shop = await LampShop.StartAsync();
        await PartAsync(shop);
        var refused = await Assert.ThrowsAsync<PostgresException>(() => PartAsync(shop));
        Assert.Contains("20000000", refused.MessageText, StringComparison.Ordinal);
        await shop.BuildAsync("1", "TOUR-L1");
        Assert.Equal(2, (await PartsAsync(shop)).Length);
    }

    [Fact]
    public async Task It_gives_up_when_a_lock_is_held_and_can_be_run_again()
    {
        await using var shop = await LampShop.StartAsync();
        await using (var connection = await shop.Host.Database.OpenConnectionAsync())
        {
            await using var transaction = await connection.BeginTransactionAsync();
            await using (var command = new NpgsqlCommand("lock table events.mt_events in row exclusive mode", connection, transaction))
            {
                await command.ExecuteNonQueryAsync();
            }

            var refused = await Assert.ThrowsAsync<PostgresException>(() => PartAsync(shop));
            Assert.Equal(PostgresErrorCodes.LockNotAvailable, refused.SqlState);
        }

        await shop.BuildAsync("1", "TOUR-L1");
        await PartAsync(shop);
        await shop.CloseAsync("1");
        Assert.Equal((long[])[1L, 2L, 3L], await ReadAsync(shop, "1"));
    }

    private static async Task<int> WriteAsync(LampShop shop, int serial, CancellationToken stop)
    {
        var built = 0;
        while (!stop.IsCancellationRequested)
        {
            // Fails when a post is answered with anything but 201.
            await shop.BuildAsync((serial + built).ToString(CultureInfo.InvariantCulture), "TOUR-L1");
            built++;
        }

        return built;
    }

    private static async Task PartAsync(LampShop shop)
    {
        // It commits between its steps, so it is sent by itself and outside of a transaction.
        await using var connection = await shop.Host.Database.OpenConnectionAsync();
        await using var command = new NpgsqlCommand(Script, connection) { CommandTimeout = 60 };
        await command.ExecuteNonQueryAsync();
    }

    private static async Task<string[]> PartsAsync(LampShop shop) => await shop.ScalarAsync<string[]>(
        """
        select array_agg(c.relname || ': ' || substring(pg_get_expr(c.relpartbound, c.oid) from 'FROM .*') order by c.relname)
        from pg_inherits i join pg_class c on c.oid = i.inhrelid where i.inhparent = 'events.mt_events'::regclass
        """);

    private static async Task<long> CountAsync(LampShop shop, string from) => await shop.ScalarAsync<long>($"select count(*) from {from}");

    private static async Task<object> FactAsync(IDocumentStore store, string stream)
    {
        await using var session = store.QuerySession();
        return (await session.Events.FetchStreamAsync(stream))[1].Data;
    }

    private static async Task<long[]> ReadAsync(LampShop shop, string serial)
    {
        await using var session = shop.Host.App.Services.GetRequiredService<IDocumentStore>().QuerySession();
        var events = await session.Events.FetchStreamAsync($"unit/TOUR-LAMP/{serial}");
        Assert.All(events, e => Assert.IsAssignableFrom<IUnitFact>(e.Data));
        return [.. events.Select(e => e.Version)];
    }
}
