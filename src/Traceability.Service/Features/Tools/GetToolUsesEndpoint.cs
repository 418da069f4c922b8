using Microsoft.AspNetCore.Http.HttpResults;
using Npgsql;
using NpgsqlTypes;
using Traceability.Contracts.Tools;
using Traceability.Domain.Primitives;
using Traceability.Domain.Tools;
using Traceability.Service.Http;
using Traceability.Service.Http.Querying;
using Traceability.Service.Storage;
using Traceability.Service.Storage.Answers;

namespace Traceability.Service.Features.Tools;

/// <summary>GET /api/tools/{tool}/uses.</summary>
internal static class GetToolUsesEndpoint
{
    private const int LimitDefault = 100;
    private const int LimitMax = 1_000;

    // The order is the index on (tool, at, unit, row_id), read backwards. A setting that no fact of the tool names stands as ''.
    private const string Sql =
        """
        select u.unit, u.row_id, u.at, u.step, u.attempt, u.record, u.setting, u.requirement, u.station, n.place, n.step, n.consignee
        from traceability.tool_usage u join traceability.unit n on n.unit = u.unit
        where u.tool = $1 and ($2::text is null or u.setting = $2)
          and ($3::timestamptz is null or u.at >= $3) and ($4::timestamptz is null or u.at < $4)
          and (not $5 or exists (
            select from unnest($6::text[], $7::timestamptz[], $8::timestamptz[]) w(setting, since, until)
            where w.setting is not distinct from case when u.setting is null or u.setting = any($9) then u.setting else '' end
              and (w.since is null or u.at >= w.since) and (w.until is null or u.at < w.until)))
          and ($10::timestamptz is null or (u.at, u.unit, u.row_id) < ($10, $11, $12))
        order by u.at desc, u.unit desc, u.row_id desc limit $13
        """;

    /// <summary>The parameters, for the contract; <see cref="QueryReader"/> reads them.</summary>
    /// <param name="Setting">Only uses at this setting.</param>
    /// <param name="From">Only uses at this time (RFC 3339 with offset) or later, such as the begin of a suspect window.</param>
    /// <param name="To">Only uses before this time, such as the end of a suspect window.</param>
    /// <param name="SuspectOnly">true: only uses in a suspect window. Default: false.</param>
    /// <param name="Limit">The most uses of the page, 1 to 1000. Default: 100.</param>
    /// <param name="After">What the page before said as "after".</param>
    internal sealed record Query(string? Setting, string? From, string? To, string? SuspectOnly, string? Limit, string? After);

    public static async Task<Results<Ok<ToolUsePage>, ProblemHttpResult>> HandleAsync(
        string tool, [AsParameters] Query query, HttpRequest request, AnswerDatabase database, TimeProvider clock, CancellationToken cancellation)
    {
        _ = query;
        var path = new PathCodes();
        var number = path.Read<ToolNumber>("tool", tool);
        var reader = new QueryReader(request.Query);
        var question = Question.Read(reader);
        if ((path.Refusal ?? reader.Finish()) is { } refusal)
        {
            return refusal.ToProblem();
        }

        var asOf = clock.GetUtcNow();
        await using var session = await database.OpenAsync(cancellation);
        if (await KnownTool.FindAsync(session.Connection, number, cancellation) is not { } known)
        {
            return KnownTool.Unknown(tool);
        }

        var completeness = await CompletenessReader.ReadAsync(session.Connection, null, cancellation);
        await using var command = question.Command(session.Connection, known.Tool);
        List<ToolUseView> uses = [];
        string? next = null;
        RowPlace? last = null;
        await using var rows = await command.ExecuteReaderAsync(cancellation);
        while (await rows.ReadAsync(cancellation))
        {
            // One row more than asked for tells that there is a next page.
            if (uses.Count == question.Limit)
            {
                next = last!.ToString();
                break;
            }

            uses.Add(Use(known.Tool, rows));
            last = new(uses[^1].At, rows.GetString(0), rows.GetInt64(1));
        }

        return TypedResults.Ok(new ToolUsePage(asOf, uses, next, completeness));
    }

    private static ToolUseView Use(Tool tool, NpgsqlDataReader row)
    {
        var unit = UnitKey.Parse(row.GetString(0));
        var at = row.GetFieldValue<DateTimeOffset>(2);
        var setting = Text(row, 6);
        return new(
            unit.Item.Value,
            unit.Serial.Value,
            row.GetString(3),
            row.GetInt32(4),
            row.GetGuid(5),
            at,
            setting,
            Text(row, 7),
            Text(row, 8),
            SuspectWindows.At(tool, setting is null ? null : Code.Parse(setting), at) is not null,
            row.GetString(9),
            Text(row, 10),
            Text(row, 11));
    }

    private static string? Text(NpgsqlDataReader row, int column) => row.IsDBNull(column) ? null : row.GetString(column);

    private sealed record Question(Code? Setting, DateTimeOffset? From, DateTimeOffset? To, bool SuspectOnly, int Limit, RowPlace? After)
    {
        public static Question Read(QueryReader reader)
        {
            var setting = reader.Code<Code>("setting");
            var from = reader.Time("from");
            var to = reader.Time("to");
            if (from >= to)
            {
                reader.Note("to", "is not after from.");
            }

            return new(
                setting,
                from,
                to,
                reader.Flag("suspectOnly"),
                reader.Integer("limit", 1, LimitMax, LimitDefault),
                reader.Text("after", RowPlace.Parse, RowPlace.Form));
        }

        public NpgsqlCommand Command(NpgsqlConnection connection, Tool tool)
        {
            var settings = SuspectWindows.Settings(tool);
            (string? Setting, SuspectWindow Window)[] windows = SuspectOnly
                ? [.. settings.Append(SuspectWindows.Unnamed).SelectMany(s => SuspectWindows.Of(tool, s).Select(w => (s?.ToString(), w)))]
                : [];
            return new(Sql, connection)
            {
                Parameters =
                {
                    new() { Value = tool.Number.Value },
                    Value(Setting?.Value, NpgsqlDbType.Text),
                    Value(From?.UtcDateTime, NpgsqlDbType.TimestampTz),
                    Value(To?.UtcDateTime, NpgsqlDbType.TimestampTz),
                    new() { Value = SuspectOnly },
                    Value(windows.Select(w => w.Setting).ToArray(), NpgsqlDbType.Array | NpgsqlDbType.Text),
                    Value(windows.Select(w => w.Window.From?.UtcDateTime).ToArray(), NpgsqlDbType.Array | NpgsqlDbType.TimestampTz),
                    Value(windows.Select(w => w.Window.To?.UtcDateTime).ToArray(), NpgsqlDbType.Array | NpgsqlDbType.TimestampTz),
                    Value(settings.Where(s => s is not null).Select(s => s!.Value.Value).ToArray(), NpgsqlDbType.Array | NpgsqlDbType.Text),
                    Value(After?.At.UtcDateTime, NpgsqlDbType.TimestampTz),
                    Value(After?.Unit, NpgsqlDbType.Text),
                    Value(After?.RowId, NpgsqlDbType.Bigint),
                    new() { Value = Limit + 1 },
                },
            };
        }

        private static NpgsqlParameter Value(object? value, NpgsqlDbType type) => new() { Value = value ?? DBNull.Value, NpgsqlDbType = type };
    }
}
