using Marten;
using Microsoft.AspNetCore.Http;
using Microsoft.Extensions.Configuration;
using Microsoft.Extensions.Options;
using Npgsql;
using NpgsqlTypes;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Lots;
using Traceability.Domain.Scope;
using Traceability.Service.Features.Scope;
using Traceability.Service.Storage;
using Traceability.Service.Storage.Answers;
using Traceability.Testing;

namespace Traceability.Service.Tests.Scope;

/// <summary>A database of this version's form, and rows of judgements in it.</summary>
public sealed class ScopeDatabase : IAsyncDisposable
{
    private readonly TestDatabase _test;
    private readonly DocumentStore _store;

    private ScopeDatabase(TestDatabase test, NpgsqlDataSource source, DocumentStore store)
    {
        _test = test;
        Source = source;
        _store = store;
    }

    /// <summary>Gets connections to it.</summary>
    public NpgsqlDataSource Source { get; }

    /// <summary>Gets snapshots of it to answer from.</summary>
    internal AnswerDatabase Answers => new(
        Source, new(new ConfigurationBuilder().Build(), Options.Create(new StorageOptions())), new HttpContextAccessor(), TimeProvider.System);

    /// <summary>Makes one.</summary>
    public static async Task<ScopeDatabase> CreateAsync()
    {
        var test = await PostgresServer.CreateDatabaseAsync();
        var source = Database.Open(test.ConnectionString, new StorageOptions());
        var store = DocumentStore.For(o => EventStore.Configure(o, source));
        await new Migrator(source, store).ApplyAsync(CancellationToken.None);
        return new(test, source, store);
    }

    /// <summary>Replaces all rows by those of these judgements, with the row ids that <see cref="JudgementScopeSource"/> gives.</summary>
    public async Task FillAsync(IReadOnlyCollection<UnitJudgement> units)
    {
        await using var connection = await Source.OpenConnectionAsync();
        await using (var command = new NpgsqlCommand(
            "delete from traceability.unit; delete from traceability.material_usage; delete from traceability.trace_gap; delete from traceability.installation",
            connection))
        {
            await command.ExecuteNonQueryAsync();
        }

        await CopyAsync(connection, "unit (unit, item, serial, opened_at, place, since, consignee, has_unreadable, version, judgement)", units.Select(u => new Cell[]
        {
            Text(u.Unit.ToString()), Text(u.Unit.Item.Value), Text(u.Unit.Serial.Value), Time(u.Status.OpenedAt), Text(ScopeNames.Of(u.Status.Place)),
            Time(u.Status.Since), Text(u.Status.Consignee), new(u.Status.HasUnreadable, NpgsqlDbType.Boolean), new(1, NpgsqlDbType.Integer), new(1L, NpgsqlDbType.Bigint),
        }));
        await CopyAsync(
            connection,
            "material_usage (unit, row_id, item, lot, container, is_one_of, step, record, requirement, used_from, used_to, station)",
            units.SelectMany(u => u.Usages.Select((m, row) => new Cell[]
            {
                Text(u.Unit.ToString()), Id(row), Text(m.Lot.Item.Value), Text(m.Lot.Lot.Value), Text(m.Container?.Value), new(m.IsOneOf, NpgsqlDbType.Boolean),
                Text(m.Step?.Value), new(m.Record, NpgsqlDbType.Uuid), Text(m.Requirement?.Value), Time(m.From), Time(m.To), Text(m.Station?.Value),
            })));
        await CopyAsync(
            connection,
            "trace_gap (unit, row_id, item, kind, reason, lot, step, record, requirement, used_from, used_to, station)",
            units.SelectMany(u => u.Gaps.SelectMany((g, row) => g.Items.Select((item, number) => new Cell[]
            {
                Text(u.Unit.ToString()), Id((row * JudgementScopeSource.ItemsMax) + number), Text(item.Value), Text(ScopeNames.Of(g.Kind)),
                Text(ScopeNames.Of(g.Reason)), Text(g.Lot?.Lot.Value), Text(g.Step.Value), new(g.Record, NpgsqlDbType.Uuid), Text(g.Requirement.Value),
                Time(g.From), Time(g.To), Text(g.Station?.Value),
            }))));
        await CopyAsync(
            connection,
            "installation (parent, row_id, component, position, step, record, installed_from, installed_to)",
            units.SelectMany(u => u.Installations.Select((i, row) => new Cell[]
            {
                Text(i.Parent.ToString()), Id(row), Text(i.Component.ToString()), Text(i.Position.Value), Text(i.Step?.Value),
                new(i.Record, NpgsqlDbType.Uuid), Time(i.From), Time(i.To),
            })));
    }

    /// <summary>Appends the lot's facts to its stream.</summary>
    public async Task TellAsync(Lot lot)
    {
        var version = 0;
        foreach (var fact in lot.Effective)
        {
            await using var open = Source.CreateCommand(
                "insert into events.mt_streams (id, version) values ($1, $2) on conflict (id) do update set version = excluded.version");
            open.Parameters.Add(new() { Value = StreamNames.Of(lot.Key) });
            open.Parameters.Add(new() { Value = (long)++version });
            await open.ExecuteNonQueryAsync();
            await using var append = Source.CreateCommand(
                """
                insert into events.mt_events (seq_id, id, stream_id, version, data, type, timestamp)
                values (nextval('events.mt_events_sequence'), $1, $2, $3, $4, $5, $6)
                """);
            append.Parameters.Add(new() { Value = fact.Id });
            append.Parameters.Add(new() { Value = StreamNames.Of(lot.Key) });
            append.Parameters.Add(new() { Value = (long)version });
            append.Parameters.Add(new() { Value = FactCodec.Serialize(fact.Fact), NpgsqlDbType = NpgsqlDbType.Jsonb });
            append.Parameters.Add(new() { Value = EventNames.Of(fact.Fact.GetType()) });
            append.Parameters.Add(new() { Value = fact.RecordedAt.UtcDateTime });
            await append.ExecuteNonQueryAsync();
        }
    }

    /// <summary>Runs any statement.</summary>
    public async Task ExecuteAsync(string sql)
    {
        await using var command = Source.CreateCommand(sql);
        await command.ExecuteNonQueryAsync();
    }

    /// <inheritdoc />
    public async ValueTask DisposeAsync()
    {
        await _store.DisposeAsync();
        await Source.DisposeAsync();
        await _test.DisposeAsync();
    }

    private static async Task CopyAsync(NpgsqlConnection connection, string target, IEnumerable<Cell[]> rows)
    {
        await using var writer = await connection.BeginBinaryImportAsync($"copy traceability.{target} from stdin (format binary)");
        foreach (var row in rows)
        {
            await writer.StartRowAsync();
            foreach (var (value, type) in row)
            {
                await (value is null ? writer.WriteNullAsync() : writer.WriteAsync(value, type));
            }
        }

        await writer.CompleteAsync();
    }

    private static Cell Text(string? value) => new(value, NpgsqlDbType.Text);

    private static Cell Id(int value) => new((long)value, NpgsqlDbType.Bigint);

    private static Cell Time(DateTimeOffset? value) => new(value?.UtcDateTime, NpgsqlDbType.TimestampTz);

    private readonly record struct Cell(object? Value, NpgsqlDbType Type);
}
