using System.Buffers.Text;
using System.Globalization;
using System.Text;
using Microsoft.AspNetCore.Http.HttpResults;
using Npgsql;
using NpgsqlTypes;
using Traceability.Contracts.Containments;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Http.Querying;
using Traceability.Service.Storage;
using Traceability.Service.Storage.Answers;

namespace Traceability.Service.Features.Containments;

/// <summary>The lists: cases, members of a case, consignees.</summary>
internal static class ContainmentLists
{
    private const int LimitDefault = 100;
    private const int LimitMax = 1_000;
    private const string AfterForm = "Give what the page before said as \"after\".";

    /// <summary>The parameters, for the contract; <see cref="QueryReader"/> reads them.</summary>
    /// <param name="State">Only these states, separated by commas: open, closed.</param>
    /// <param name="Limit">The most containments of the page, 1 to 1000. Default: 100.</param>
    /// <param name="After">What the page before said as "after".</param>
    internal sealed record CasesQuery(string? State, string? Limit, string? After);

    /// <summary>The parameters, for the contract; <see cref="QueryReader"/> reads them.</summary>
    /// <param name="Only">Only these: open (without a final outcome), late, late-not-acknowledged, not-reached. One of them.</param>
    /// <param name="Limit">The most members of the page, 1 to 1000. Default: 100.</param>
    /// <param name="After">What the page before said as "after": a unit as item/serial.</param>
    internal sealed record MembersQuery(string? Only, string? Limit, string? After);

    /// <summary>The parameters, for the contract; <see cref="QueryReader"/> reads them.</summary>
    /// <param name="Limit">The most members of the page, 1 to 1000. Default: 100.</param>
    /// <param name="After">What the page before said as "after".</param>
    internal sealed record ConsigneesQuery(string? Limit, string? After);

    public static async Task<Results<Ok<ContainmentPage>, ProblemHttpResult>> CasesAsync(
        [AsParameters] CasesQuery query, HttpRequest request, AnswerDatabase database, TimeProvider clock, CancellationToken cancellation)
    {
        _ = query;
        var reader = new QueryReader(request.Query);
        var states = reader.Names("state", ["open", "closed"]);
        var limit = reader.Integer("limit", 1, LimitMax, LimitDefault);
        var after = reader.Text("after", CasePlace, AfterForm);
        if (reader.Finish() is { } refusal)
        {
            return refusal.ToProblem();
        }

        var asOf = clock.GetUtcNow();
        await using var session = await database.OpenAsync(cancellation);
        await using var command = new NpgsqlCommand(
            """
            select id, title, state, question_words, opened_at, opened_by, closed_at, members, members_open, late_open
            from traceability.containment
            where ($1::text[] is null or state = any($1)) and ($2::timestamptz is null or (opened_at, id) < ($2, $3))
            order by opened_at desc, id desc limit $4
            """,
            session.Connection);
        command.Parameters.Add(new() { Value = (object?)states?.ToArray() ?? DBNull.Value, NpgsqlDbType = NpgsqlDbType.Array | NpgsqlDbType.Text });
        command.Parameters.Add(new() { Value = (object?)after?.At.UtcDateTime ?? DBNull.Value, NpgsqlDbType = NpgsqlDbType.TimestampTz });
        command.Parameters.Add(new() { Value = (object?)after?.Id ?? DBNull.Value, NpgsqlDbType = NpgsqlDbType.Text });
        command.Parameters.Add(new() { Value = limit + 1 });
        List<ContainmentSummary> found = [];
        await using var rows = await command.ExecuteReaderAsync(cancellation);
        while (await rows.ReadAsync(cancellation))
        {
            found.Add(new(
                rows.GetString(0),
                rows.GetString(1),
                rows.GetString(2),
                rows.GetString(3),
                rows.GetFieldValue<DateTimeOffset>(4),
                rows.IsDBNull(5) ? null : rows.GetString(5),
                rows.IsDBNull(6) ? null : rows.GetFieldValue<DateTimeOffset>(6),
                rows.GetInt32(7),
                rows.GetInt32(8),
                rows.GetInt32(9)));
        }

        return TypedResults.Ok(found.Count > limit
            ? new ContainmentPage(asOf, found[..limit], Token(found[limit - 1].OpenedAt.UtcTicks.ToString(CultureInfo.InvariantCulture), found[limit - 1].Containment))
            : new ContainmentPage(asOf, found, null));
    }

    public static async Task<Results<Ok<ContainmentMemberPage>, ProblemHttpResult>> MembersAsync(
        string id, [AsParameters] MembersQuery query, HttpRequest request, AnswerDatabase database, TimeProvider clock, CancellationToken cancellation)
    {
        _ = query;
        if (!ContainmentEndpoints.TryRead(id, out var containment, out var invalid))
        {
            return invalid!.ToProblem();
        }

        var reader = new QueryReader(request.Query);
        var only = reader.Text("only", MemberFilter.Find, $"Known are {string.Join(", ", MemberFilter.Names)}.");
        var limit = reader.Integer("limit", 1, LimitMax, LimitDefault);
        var after = reader.Text("after", t => IsUnit(t) ? t : null, AfterForm);
        if (reader.Finish() is { } refusal)
        {
            return refusal.ToProblem();
        }

        var asOf = clock.GetUtcNow();
        await using var session = await database.OpenAsync(cancellation);
        if (!await IsKnownAsync(session.Connection, containment, cancellation))
        {
            return ContainmentEndpoints.Unknown(containment).ToProblem();
        }

        var completeness = await CompletenessReader.ReadAsync(session.Connection, null, cancellation);
        var rows = await MemberRows.ReadAsync(session.Connection, containment, only, after, limit + 1, cancellation);
        return TypedResults.Ok(new ContainmentMemberPage(
            asOf, [.. rows.Take(limit).Select(r => r.View(containment))], rows.Count > limit ? rows[limit - 1].Unit.ToString() : null, completeness));
    }

    public static async Task<Results<Ok<ConsigneePage>, ProblemHttpResult>> ConsigneesAsync(
        string id, [AsParameters] ConsigneesQuery query, HttpRequest request, AnswerDatabase database, TimeProvider clock, CancellationToken cancellation)
    {
        _ = query;
        if (!ContainmentEndpoints.TryRead(id, out var containment, out var invalid))
        {
            return invalid!.ToProblem();
        }

        var reader = new QueryReader(request.Query);
        var limit = reader.Integer("limit", 1, LimitMax, LimitDefault);
        var after = reader.Text("after", ConsigneePlace, AfterForm);
        if (reader.Finish() is { } refusal)
        {
            return refusal.ToProblem();
        }

        var asOf = clock.GetUtcNow();
        await using var session = await database.OpenAsync(cancellation);
        if (!await IsKnownAsync(session.Connection, containment, cancellation))
        {
            return ContainmentEndpoints.Unknown(containment).ToProblem();
        }

        var completeness = await CompletenessReader.ReadAsync(session.Connection, null, cancellation);
        var rows = await MemberRows.ShippedAsync(session.Connection, containment, after is null ? null : (after.Consignee, after.Unit), limit + 1, cancellation);
        var page = rows.Take(limit).ToArray();
        var next = rows.Count > limit ? Token(page[^1].Consignee!, page[^1].Unit.ToString()) : null;
        return TypedResults.Ok(new ConsigneePage(asOf, await Consignees.OfAsync(session.Connection, page, cancellation), next, completeness));
    }

    /// <summary>Whether there is a case of this number.</summary>
    public static async Task<bool> IsKnownAsync(NpgsqlConnection connection, ContainmentId containment, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand("select 1 from traceability.containment where id = $1", connection);
        command.Parameters.Add(new() { Value = containment.Value });
        return await command.ExecuteScalarAsync(cancellation) is not null;
    }

    private static string Token(string first, string second) => Base64Url.EncodeToString(Encoding.UTF8.GetBytes($"{first}\n{second}"));

    // The second part is a unit or the number of a case, so the last line end is the one between.
    private static (string First, string Second)? Parts(string text)
    {
        if (!Base64Url.IsValid(text))
        {
            return null;
        }

        var plain = Encoding.UTF8.GetString(Base64Url.DecodeFromChars(text));
        var end = plain.LastIndexOf('\n');
        return end < 0 || plain.Contains('\0', StringComparison.Ordinal) ? null : (plain[..end], plain[(end + 1)..]);
    }

    private static PlaceOfCase? CasePlace(string text) =>
        Parts(text) is var (at, id) && long.TryParse(at, NumberStyles.None, CultureInfo.InvariantCulture, out var ticks) && ticks <= DateTimeOffset.MaxValue.UtcTicks
            && Codes.TryParse<ContainmentId>(id, out _)
            ? new(new(ticks, TimeSpan.Zero), id)
            : null;

    private static PlaceOfConsignee? ConsigneePlace(string text) => Parts(text) is var (consignee, unit) && IsUnit(unit) ? new(consignee, unit) : null;

    private static bool IsUnit(string text) =>
        text.Split('/') is [var item, var serial] && Codes.TryParse<ItemNumber>(item, out _) && Codes.TryParse<SerialNumber>(serial, out _);

    private sealed record PlaceOfCase(DateTimeOffset At, string Id);

    private sealed record PlaceOfConsignee(string Consignee, string Unit);
}
