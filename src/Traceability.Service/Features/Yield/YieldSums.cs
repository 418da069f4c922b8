using Npgsql;
using NpgsqlTypes;
using Traceability.Domain.Yield;

namespace Traceability.Service.Features.Yield;

/// <summary>The summed counts of one combination; a column that was not asked for, and an empty text, is null.</summary>
internal sealed record YieldCell(DateOnly? Day, string? Station, string? Variant, string? Step, string? Revision, YieldCounter Counts);

/// <summary>Summed counts, and how many changes were summed that are not folded yet.</summary>
internal sealed record YieldSum(YieldCounter Total, long Pending, ImmutableArray<YieldCell> Cells);

/// <summary>Sums yield counters: the folded ones and the queued differences in one statement, so in one snapshot.</summary>
internal static class YieldSums
{
    /// <summary>What step cells can be told apart by.</summary>
    public static ImmutableArray<string> StepColumns { get; } = ["day", "station", "variant", "step", "revision"];

    /// <summary>What unit cells can be told apart by.</summary>
    public static ImmutableArray<string> UnitColumns { get; } = ["day", "variant", "revision"];

    /// <summary>Sums step counters.</summary>
    public static async Task<YieldSum> StepsAsync(YieldScope scope, CancellationToken cancellation)
    {
        var q = scope.Question;
        await using var command = new NpgsqlCommand(StepSql(q.By), scope.Connection)
        {
            Parameters =
            {
                new() { Value = q.Item.Value },
                new() { Value = scope.From },
                new() { Value = scope.To },
                OrNull(q.Step?.Value),
                OrNull(q.Station?.Value),
                OrNull(q.Variant?.Value),
                OrNull(q.Revision?.Value),
            },
        };
        return await ReadAsync(
            command,
            r => new()
            {
                FirstAttempts = r.GetInt64(7),
                FirstPassed = r.GetInt64(8),
                Attempts = r.GetInt64(9),
                Reworks = r.GetInt64(10),
                Retests = r.GetInt64(11),
                Defects = r.GetInt64(12),
                Opportunities = r.GetInt64(13),
            },
            cancellation);
    }

    /// <summary>Sums unit counters; "attempt" in the counts reads "unit that ended".</summary>
    public static async Task<YieldSum> UnitsAsync(YieldScope scope, CancellationToken cancellation)
    {
        var q = scope.Question;
        await using var command = new NpgsqlCommand(UnitSql(q.By), scope.Connection)
        {
            Parameters = { new() { Value = q.Item.Value }, new() { Value = scope.From }, new() { Value = scope.To } },
        };
        return await ReadAsync(
            command,
            r => new() { FirstAttempts = r.GetInt64(7), FirstPassed = r.GetInt64(8), Attempts = r.GetInt64(7), Scrapped = r.GetInt64(9) },
            cancellation);
    }

    /// <summary>The statement that sums steps; the texts in it come from <see cref="StepColumns"/> only.</summary>
    internal static string StepSql(ImmutableArray<string> by)
    {
        const string Counts = "first_attempts, first_passed, attempts, reworks, retests, defects, opportunities";
        const string Where =
            """
            where item = $1 and day between $2 and $3 and ($4::text is null or step = $4)
              and ($5::text is null or station = $5) and ($6::text is null or variant = $6) and ($7::text is null or revision = $7)
            """;
        return $"""
            select {Selected(by)}, coalesce(sum(pending), 0)::bigint, {Summed(Counts)}
            from (
              select day, station, variant, step, revision, {Counts}, 0 as pending from traceability.step_yield_day {Where}
              union all
              select day, station, variant, step, revision, {Counts}, 1 from traceability.step_yield_change {Where}) counted
            {Grouped(by, "attempts")}
            """;
    }

    private static string UnitSql(ImmutableArray<string> by)
    {
        const string Counts = "ended, passed, scrapped";
        const string Where = "where item = $1 and day between $2 and $3";
        return $"""
            select {Selected(by)}, coalesce(sum(pending), 0)::bigint, {Summed(Counts)}
            from (
              select day, variant, revision, {Counts}, 0 as pending from traceability.unit_yield_day {Where}
              union all
              select day, variant, revision, {Counts}, 1 from traceability.unit_yield_change {Where}) counted
            {Grouped(by, "ended")}
            """;
    }

    // A column that is not asked for is null, so that every statement gives the same columns: day first, then texts.
    private static string Selected(ImmutableArray<string> by) => string.Join(
        ", ",
        StepColumns.Select(c => by.Contains(c, StringComparer.Ordinal) ? c : string.Equals(c, "day", StringComparison.Ordinal) ? "null::date" : "null::text")
            .Append(by.IsEmpty ? "true" : $"grouping({by[0]}) = 1"));

    // The sum of bigints is a numeric, which takes several times as long. A count of one day that is too large for an
    // integer would be an error here, not a wrong sum.
    private static string Summed(string counts) =>
        string.Join(", ", counts.Split(", ").Select(c => $"coalesce(sum({c}::integer), 0)::bigint"));

    // The total comes along as one more row. A cell that corrections have emptied is no cell any more.
    private static string Grouped(ImmutableArray<string> by, string any)
    {
        if (by.IsEmpty)
        {
            return "group by ()";
        }

        var columns = string.Join(", ", by);
        return $"group by grouping sets (({columns}), ()) having grouping({by[0]}) = 1 or sum({any}::integer) > 0 order by {columns}";
    }

    private static NpgsqlParameter OrNull(string? text) => new() { Value = (object?)text ?? DBNull.Value, NpgsqlDbType = NpgsqlDbType.Text };

    private static async Task<YieldSum> ReadAsync(NpgsqlCommand command, Func<NpgsqlDataReader, YieldCounter> counts, CancellationToken cancellation)
    {
        var total = YieldCounter.Zero;
        var pending = 0L;
        var cells = ImmutableArray.CreateBuilder<YieldCell>();
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        while (await reader.ReadAsync(cancellation))
        {
            if (reader.GetBoolean(5))
            {
                total = counts(reader);
                pending = reader.GetInt64(6);
                continue;
            }

            cells.Add(new(
                reader.IsDBNull(0) ? null : reader.GetFieldValue<DateOnly>(0), Text(reader, 1), Text(reader, 2), Text(reader, 3), Text(reader, 4), counts(reader)));
        }

        return new(total, pending, cells.ToImmutable());
    }

    private static string? Text(NpgsqlDataReader reader, int column) =>
        reader.IsDBNull(column) || reader.GetString(column) is not { Length: > 0 } text ? null : text;
}
