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
using InstallationColumns = Traceability.Service.Ingest.InstallationColumns;
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

    /// <summary>Gets what to connect with.</summary>
    public string ConnectionString => _test.ConnectionString;

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
            "delete from traceability.unit; delete from traceability.material_usage; delete from traceability.trace_gap; delete from traceability.installation; "
            + "delete from traceability.step_result; delete from traceability.tool_usage; delete from traceability.measurement; "
            + "delete from traceability.interval_result; delete from traceability.work_gap",
            connection))
        {
            await command.ExecuteNonQueryAsync();
        }

        await CopyAsync(connection, "unit (unit, item, serial, variant, revision, opened_at, place, since, consignee, has_unreadable, version, judgement)", units.Select(u => new Cell[]
        {
            Text(u.Unit.ToString()), Text(u.Unit.Item.Value), Text(u.Unit.Serial.Value), Text(u.Status.Variant?.Value), Text(u.Status.Revision?.Value), Time(u.Status.OpenedAt), Text(ScopeNames.Of(u.Status.Place)),
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
                Text(ScopeNames.Of(g.Reason)), Text(g.Lot?.Lot.Value), Text(g.Step?.Value), new(g.Record, NpgsqlDbType.Uuid), Text(g.Requirement?.Value),
                Time(g.From), Time(g.To), Text(g.Station?.Value),
            }))));
        await CopyAsync(
            connection,
            "installation (parent, row_id, component, position, step, record, installed_from, installed_to, uncertainty)",
            units.SelectMany(u => u.Installations.Select((i, row) => new Cell[]
            {
                Text(i.Parent.ToString()), Id(row), Text(i.Component.ToString()), Text(i.Position.Value), Text(i.Step?.Value),
                new(i.Record, NpgsqlDbType.Uuid), Time(i.From), Time(i.To),
                new(InstallationColumns.Uncertainty(i), NpgsqlDbType.Interval),
            })));
        await FillWorkAsync(connection, units);
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

    /// <summary>Runs any statement; one that fills tables may take long on a busy machine.</summary>
    public async Task ExecuteAsync(string sql)
    {
        await using var command = Source.CreateCommand(sql);
        command.CommandTimeout = 300;
        await command.ExecuteNonQueryAsync();
    }

    /// <inheritdoc />
    public async ValueTask DisposeAsync()
    {
        await _store.DisposeAsync();
        await Source.DisposeAsync();
        await _test.DisposeAsync();
    }

    private static async Task FillWorkAsync(NpgsqlConnection connection, IReadOnlyCollection<UnitJudgement> units)
    {
        await CopyAsync(
            connection,
            "step_result (unit, row_id, item, variant, revision, step, attempt, record, completed_at, day, station, person, is_rework, passed, defects, opportunities, earliest, latest)",
            units.SelectMany(u => u.Steps.Select((s, row) => new Cell[]
            {
                Text(u.Unit.ToString()), Id(row), Text(u.Unit.Item.Value), Text(u.Status.Variant?.Value ?? string.Empty), Text(s.Revision?.Value ?? string.Empty),
                Text(s.Step.Value), new(s.Attempt, NpgsqlDbType.Integer), new(s.Record, NpgsqlDbType.Uuid), Time(s.CompletedAt), new(s.Day, NpgsqlDbType.Date),
                Text(s.Station?.Value ?? string.Empty), Text(s.Person?.Value ?? string.Empty), new(s.IsRework, NpgsqlDbType.Boolean), new(s.Passed, NpgsqlDbType.Boolean),
                new(s.Defects, NpgsqlDbType.Integer), new(s.Opportunities, NpgsqlDbType.Integer), Time(s.Earliest), Time(s.Latest),
            })));
        await CopyAsync(
            connection,
            "tool_usage (unit, row_id, tool, setting, requirement, step, attempt, record, at, used_from, used_to, station)",
            units.SelectMany(u => u.ToolUsages.Select((t, row) => new Cell[]
            {
                Text(u.Unit.ToString()), Id(row), Text(t.Tool.Value), Text(t.Setting?.Value), Text(t.Requirement?.Value), Text(t.Step.Value),
                new(t.Attempt, NpgsqlDbType.Integer), new(t.Record, NpgsqlDbType.Uuid), Time(t.At), Time(t.From), Time(t.To), Text(t.Station?.Value),
            })));
        await CopyAsync(
            connection,
            "measurement (unit, row_id, item, step, attempt, record, characteristic, value, magnitude, dimension, uncertainty, passed, used_from, used_to, station)",
            units.SelectMany(u => u.Measurements.Select((m, row) => new Cell[]
            {
                Text(u.Unit.ToString()), Id(row), Text(u.Unit.Item.Value), Text(m.Step.Value), new(m.Attempt, NpgsqlDbType.Integer), new(m.Record, NpgsqlDbType.Uuid),
                Text(m.Characteristic.Value), Text(m.Value?.ToString()), new(m.Magnitude, NpgsqlDbType.Double), Text(m.Dimension), new(m.Uncertainty, NpgsqlDbType.Double),
                new(m.Passed, NpgsqlDbType.Boolean), Time(m.From), Time(m.To), Text(m.Station?.Value),
            })));
        await CopyAsync(
            connection,
            "interval_result (unit, row_id, item, rule, from_step, to_step, from_record, to_record, least, most, verdict, at, station)",
            units.SelectMany(u => u.IntervalResults.Select((i, row) => new Cell[]
            {
                Text(u.Unit.ToString()), Id(row), Text(u.Unit.Item.Value), Text(i.Rule.Value), Text(i.FromStep.Value), Text(i.ToStep.Value),
                new(i.FromRecord, NpgsqlDbType.Uuid), new(i.ToRecord, NpgsqlDbType.Uuid), new(i.Least, NpgsqlDbType.Interval), new(i.Most, NpgsqlDbType.Interval),
                Text(ScopeNames.Of(i.Verdict)), Time(i.At), Text(i.Station?.Value),
            })));
        await CopyAsync(
            connection,
            "work_gap (unit, row_id, item, kind, reason, step, requirement, tool_class, record, used_from, used_to, station, person, stations, revision)",
            units.SelectMany(u => u.WorkGaps.Select((g, row) => new Cell[]
            {
                Text(u.Unit.ToString()), Id(row), Text(u.Unit.Item.Value), Text(ScopeNames.Of(g.Kind)), Text(ScopeNames.Of(g.Reason)), Text(g.Step.Value),
                Text(g.Requirement?.Value), Text(g.ToolClass?.Value), new(g.Record, NpgsqlDbType.Uuid), Time(g.From), Time(g.To), Text(g.Station?.Value),
                Text(g.Person?.Value), Text(g.Stations.IsEmpty ? null : string.Join(' ', g.Stations)), Text(g.Revision?.Value),
            })));
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
