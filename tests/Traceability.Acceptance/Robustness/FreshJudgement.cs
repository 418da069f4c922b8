using System.Collections.Immutable;
using Npgsql;
using Traceability.Domain.Batches;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Service.Ingest;
using Traceability.Service.Storage;

namespace Traceability.Acceptance.Robustness;

/// <summary>Judges every unit anew from nothing but the stored events, with everything at hand that is stored.</summary>
internal static class FreshJudgement
{
    private static readonly ImmutableArray<(UnitTable Table, string Name, string Key)> Names =
    [
        (UnitTable.StepResult, "step_result", "unit"), (UnitTable.UnitResult, "unit_result", "unit"), (UnitTable.Finding, "finding", "unit"),
        (UnitTable.OpenInterval, "open_interval", "unit"), (UnitTable.MaterialUsage, "material_usage", "unit"), (UnitTable.TraceGap, "trace_gap", "unit"),
        (UnitTable.Installation, "installation", "parent"), (UnitTable.CureWindow, "cure_window", "unit"), (UnitTable.ToolUsage, "tool_usage", "unit"),
        (UnitTable.Nonconformance, "nonconformance", "unit"), (UnitTable.Measurement, "measurement", "unit"),
        (UnitTable.IntervalResult, "interval_result", "unit"), (UnitTable.WorkGap, "work_gap", "unit"), (UnitTable.Shipment, "shipment", "unit"),
    ];

    /// <summary>Where the stored rows say something else than a fresh judgement; empty if replay equals live.</summary>
    public static async Task<string> DifferencesAsync(NpgsqlDataSource database) => await DifferencesAsync(database, await JudgeAllAsync(database));

    /// <summary>The same of a fresh judgement that is at hand.</summary>
    public static async Task<string> DifferencesAsync(NpgsqlDataSource database, SortedDictionary<string, UnitJudgement> judged)
    {
        var expected = Lines(judged);
        List<string> actual = [];

        await using var connection = await database.OpenConnectionAsync();
        Dictionary<string, string> contents = new(StringComparer.Ordinal);
        foreach (var (_, name, key) in Names)
        {
            await using var command = new NpgsqlCommand($"select {key}, row_id, to_jsonb(t)::text from traceability.{name} t", connection);
            await using var reader = await command.ExecuteReaderAsync();
            while (await reader.ReadAsync())
            {
                var row = FormattableString.Invariant($"{name} {reader.GetString(0)} {reader.GetInt64(1)}");
                actual.Add(row);
                contents[row] = reader.GetString(2);
            }
        }

        await using (var command = new NpgsqlCommand("select unit, place, revision, step, since, ended_at from traceability.unit", connection))
        {
            await using var reader = await command.ExecuteReaderAsync();
            while (await reader.ReadAsync())
            {
                actual.Add(Status(
                    reader.GetString(0), reader.GetString(1).Replace("-", string.Empty, StringComparison.Ordinal), Text(reader, 2), Text(reader, 3), Time(reader, 4), Time(reader, 5)));
            }
        }

        return Explain(Tables.Difference(expected, actual), contents, judged);
    }

    /// <summary>What judgements say, a line for each row that they give.</summary>
    public static List<string> Lines(SortedDictionary<string, UnitJudgement> judged)
    {
        List<string> lines = [];
        foreach (var (unit, judgement) in judged)
        {
            var rows = UnitRows.Of(judgement);
            lines.AddRange(Names.SelectMany(n => rows.Ids(n.Table).Select(id => FormattableString.Invariant($"{n.Name} {unit} {id}"))));
            lines.Add(Status(unit, judgement.Status.Place.ToString(), judgement.Status.Revision?.Value, judgement.Status.Step?.Value, judgement.Status.Since, judgement.Status.EndedAt));
        }

        return lines;
    }

    /// <summary>Every unit that has a stored fact, with its judgement.</summary>
    public static async Task<SortedDictionary<string, UnitJudgement>> JudgeAllAsync(NpgsqlDataSource database) => JudgeAll(await StreamsAsync(database));

    /// <summary>Everything that is stored: by stream, its facts in order of arrival.</summary>
    public static async Task<IReadOnlyDictionary<string, ImmutableArray<RecordedFact>>> StreamsAsync(NpgsqlDataSource database)
    {
        await using var connection = await database.OpenConnectionAsync();
        List<string> names = [];
        await using (var command = new NpgsqlCommand("select distinct stream_id from events.mt_events", connection))
        {
            await using var reader = await command.ExecuteReaderAsync();
            while (await reader.ReadAsync())
            {
                names.Add(reader.GetString(0));
            }
        }

        return await EventReader.LoadAsync(connection, names, CancellationToken.None);
    }

    /// <summary>The same of streams that are at hand: by name, their facts in order of arrival.</summary>
    /// <param name="streams">The streams.</param>
    /// <param name="noting">Stands between a unit's judgement and what it looks at; null for nothing.</param>
    public static SortedDictionary<string, UnitJudgement> JudgeAll(IReadOnlyDictionary<string, ImmutableArray<RecordedFact>> streams, Func<UnitKey, IReferences, IReferences>? noting = null)
    {
        var references = References.None;
        foreach (var (name, facts) in streams)
        {
            references = references.With(name, References.Fold(name, facts));
        }

        var units = streams
            .Where(s => s.Key.StartsWith(StreamNames.UnitPrefix, StringComparison.Ordinal))
            .Select(s => ProductUnit.Of(UnitKey.Parse(s.Key[StreamNames.UnitPrefix.Length..]), s.Value))
            .ToArray();

        // Where a unit was put in follows from its parents' own facts; where else it was is what the judgement looks at.
        foreach (var component in units.SelectMany(u => Judge.Unit(u, references).Installations).ToLookup(i => i.Component))
        {
            references = references.WithInstallations(component.Key, [.. component.OrderBy(i => i.From).ThenBy(i => i.Record)]);
        }

        // Which other units were taken out of its batch.
        foreach (var batch in units.Select(UnitTaken.Of).OfType<UnitTaken>().ToLookup(t => t.Batch))
        {
            references = references.WithTaken(batch.Key, [.. batch]);
        }

        return new(units.ToDictionary(u => u.Key.ToString(), u => Judge.Unit(u, noting?.Invoke(u.Key, references) ?? references), StringComparer.Ordinal), StringComparer.Ordinal);
    }

    // A row id says nothing to a person: the content does.
    private static string Explain(string difference, Dictionary<string, string> contents, SortedDictionary<string, UnitJudgement> judged)
    {
        if (difference.Length == 0)
        {
            return difference;
        }

        var lines = difference.Split('\n').Select(line => line switch
        {
            ['+', ' ', .. var row] when contents.TryGetValue(row, out var content) => $"stored only: {row} {content}",
            ['-', ' ', 'f', 'i', 'n', 'd', 'i', 'n', 'g', ..] => $"fresh only: {line[2..]} {Finding(line.Split(' '), judged)}",
            _ => line,
        });
        return string.Join('\n', lines);
    }

    private static string Finding(string[] row, SortedDictionary<string, UnitJudgement> judged)
    {
        var found = UnitRows.Of(judged[row[2]]).Findings.FirstOrDefault(f => string.Equals(FormattableString.Invariant($"{f.Id}"), row[3], StringComparison.Ordinal)).Value;
        return found is null ? string.Empty : $"{found.Kind} {found.Rule} {found.Step} {found.Message}";
    }

    private static string Status(string unit, string place, string? revision, string? step, DateTimeOffset? since, DateTimeOffset? ended) =>
        string.Create(System.Globalization.CultureInfo.InvariantCulture, $"status {unit} {place.ToUpperInvariant()} {revision ?? "-"} {step ?? "-"} {since?.UtcDateTime:O} {ended?.UtcDateTime:O}");

    private static string? Text(NpgsqlDataReader reader, int column) => reader.IsDBNull(column) ? null : reader.GetString(column);

    private static DateTimeOffset? Time(NpgsqlDataReader reader, int column) => reader.IsDBNull(column) ? null : reader.GetFieldValue<DateTimeOffset>(column);
}
