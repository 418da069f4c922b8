using Npgsql;
using NpgsqlTypes;
using Traceability.Contracts.Containments;
using Traceability.Contracts.Facts;
using Traceability.Domain.Containments;
using Traceability.Domain.Primitives;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Containments;

/// <summary>A member of a case with where it is now.</summary>
internal sealed record MemberRow
{
    public required UnitKey Unit { get; init; }

    /// <summary>The outermost unit that it is inside of, or itself.</summary>
    public required UnitKey Top { get; init; }

    public required string Verdict { get; init; }

    public required string PlaceFound { get; init; }

    public required DateTimeOffset FoundAt { get; init; }

    public required Guid FoundBy { get; init; }

    public required int Run { get; init; }

    public required bool IsAcknowledged { get; init; }

    public string? Why { get; init; }

    public Guid? Evidence { get; init; }

    public DateTimeOffset? HeldAt { get; init; }

    public DateTimeOffset? LiftedAt { get; init; }

    public MemberOutcomeView? Outcome { get; init; }

    public required string Place { get; init; }

    public string? Step { get; init; }

    public DateTimeOffset? Since { get; init; }

    public string? Consignee { get; init; }

    /// <summary>The holds on <see cref="Top"/>.</summary>
    public required IReadOnlyList<string> TopHolds { get; init; }

    /// <summary>The holds on the member itself.</summary>
    public required IReadOnlyList<string> OwnHolds { get; init; }

    /// <summary>Whether the outcome asks for no hold any longer.</summary>
    public bool IsSettled { get; init; }

    /// <summary>As it is answered.</summary>
    public ContainmentMemberView View(ContainmentId containment) => new(
        Reference(Unit),
        Verdict,
        Why,
        Evidence,
        Run,
        FoundAt,
        FoundBy,
        PlaceFound,
        Run > 1,
        IsAcknowledged,
        new(Top == Unit ? null : Reference(Top), Place, Step, Since, Consignee),
        TopHolds.Contains(containment.Value, StringComparer.Ordinal) || OwnHolds.Contains(containment.Value, StringComparer.Ordinal),
        [.. TopHolds.Union(OwnHolds, StringComparer.Ordinal).Order(StringComparer.Ordinal)],
        HeldAt,
        LiftedAt,
        Outcome);

    public static UnitRef Reference(UnitKey unit) => new() { Item = unit.Item.Value, Serial = unit.Serial.Value };
}

/// <summary>Reads members with where they are now.</summary>
internal static class MemberRows
{
    /// <summary>
    /// "located": of each row of "m" the outermost unit that it is inside of, as top. A unit that is recorded inside two at once
    /// is looked for in the one that it was put into last. Pinned, since the planner would else read every installation.
    /// </summary>
    public const string Located =
        """
        up (unit, top, depth) as (
            select unit, unit, 0 from m
            union all
            select u.unit, i.parent, u.depth + 1 from up u cross join lateral (
                select parent from traceability.installation where component = u.top and installed_to is null
                order by installed_from desc, parent limit 1 offset 0) i
            where u.depth < 20),
        located as (select distinct on (unit) unit, top from up order by unit, depth desc)
        """;

    private const string Columns =
        """
        m.unit, l.top, m.verdict, m.place_found, m.found_at, m.found_by, m.run, m.is_acknowledged, m.why, m.evidence, m.held_at, m.lifted_at,
        m.outcome, m.is_final, m.outcome_at, m.outcome_by, m.outcome_note, m.outcome_record, m.outcome_evidence,
        t.place, t.step, t.since, t.consignee, t.holds, o.holds
        """;

    private const string Stands =
        """
        join located l on l.unit = m.unit
        left join lateral (select place, step, since, consignee, holds from traceability.unit where unit = l.top offset 0) t on true
        left join lateral (select holds from traceability.unit where unit = m.unit offset 0) o on true
        """;

    /// <summary>Members after one, by unit.</summary>
    /// <param name="connection">Where to read.</param>
    /// <param name="containment">The case.</param>
    /// <param name="filter">Which; null for all.</param>
    /// <param name="after">Only after this one, as item/serial; null: from the first.</param>
    /// <param name="limit">At most so many.</param>
    /// <param name="cancellation">Gives up.</param>
    public static async Task<List<MemberRow>> ReadAsync(
        NpgsqlConnection connection, ContainmentId containment, MemberFilter? filter, string? after, int limit, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand(
            $"""
            with recursive m as (
                select * from traceability.containment_member
                where containment = $1 and ($2::text is null or unit > $2 collate "C") {filter?.Sql}
                order by unit collate "C" limit $3),
            {Located}
            select {Columns} from m {Stands} order by m.unit collate "C"
            """,
            connection)
        {
            Parameters =
            {
                new() { Value = containment.Value },
                new() { Value = (object?)after ?? DBNull.Value, NpgsqlDbType = NpgsqlDbType.Text },
                new() { Value = limit },
            },
        };
        return await ReadAsync(command, cancellation);
    }

    /// <summary>Members that are shipped now, after a place in the order by consignee and unit.</summary>
    public static async Task<List<MemberRow>> ShippedAsync(
        NpgsqlConnection connection, ContainmentId containment, (string Consignee, string Unit)? after, int limit, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand(
            $"""
            with recursive m as (select * from traceability.containment_member where containment = $1),
            {Located}
            select {Columns} from m {Stands}
            where t.place = 'shipped' and ($2::text is null or (t.consignee collate "C", m.unit collate "C") > ($2, $3))
            order by t.consignee collate "C", m.unit collate "C" limit $4
            """,
            connection)
        {
            Parameters =
            {
                new() { Value = containment.Value },
                new() { Value = (object?)after?.Consignee ?? DBNull.Value, NpgsqlDbType = NpgsqlDbType.Text },
                new() { Value = (object?)after?.Unit ?? DBNull.Value, NpgsqlDbType = NpgsqlDbType.Text },
                new() { Value = limit },
            },
        };
        return await ReadAsync(command, cancellation);
    }

    private static async Task<List<MemberRow>> ReadAsync(NpgsqlCommand command, CancellationToken cancellation)
    {
        var rows = new List<MemberRow>();
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        while (await reader.ReadAsync(cancellation))
        {
            rows.Add(Read(reader));
        }

        return rows;
    }

    private static MemberRow Read(NpgsqlDataReader reader)
    {
        var outcome = Text(12);
        return new()
        {
            Unit = UnitKey.Parse(reader.GetString(0)),
            Top = UnitKey.Parse(reader.GetString(1)),
            Verdict = Text(2) ?? "not-reached",
            PlaceFound = reader.GetString(3),
            FoundAt = reader.GetFieldValue<DateTimeOffset>(4),
            FoundBy = reader.GetGuid(5),
            Run = reader.GetInt32(6),
            IsAcknowledged = reader.GetBoolean(7),
            Why = Text(8),
            Evidence = reader.IsDBNull(9) ? null : reader.GetGuid(9),
            HeldAt = Time(10),
            LiftedAt = Time(11),
            Outcome = outcome is null ? null : new(outcome, reader.GetBoolean(13), Time(14)!.Value, Text(15), Text(16), reader.GetGuid(17), reader.GetFieldValue<Guid[]>(18)),
            IsSettled = Settling.Contains(outcome),
            Place = Text(19) ?? "in-process",
            Step = Text(20),
            Since = Time(21),
            Consignee = Text(22),
            TopHolds = Text(23)?.Split(' ') ?? [],
            OwnHolds = Text(24)?.Split(' ') ?? [],
        };

        string? Text(int column) => reader.IsDBNull(column) ? null : reader.GetString(column);

        DateTimeOffset? Time(int column) => reader.IsDBNull(column) ? null : reader.GetFieldValue<DateTimeOffset>(column);
    }

    private static readonly ImmutableHashSet<string?> Settling =
        [.. Enum.GetValues<Domain.Containments.FollowUpOutcome>().Where(o => o.LiftsHold()).Select(o => (string?)EnumNames<Domain.Containments.FollowUpOutcome>.Of(o))];
}

/// <summary>Which members are asked for.</summary>
internal sealed record MemberFilter(string Sql)
{
    /// <summary>The names that a question may give, each with its condition.</summary>
    private static readonly ImmutableSortedDictionary<string, string> Known = new Dictionary<string, string>(StringComparer.Ordinal)
    {
        ["open"] = "and not is_final",
        ["late"] = "and run > 1",
        ["late-not-acknowledged"] = "and run > 1 and not is_acknowledged",
        ["not-reached"] = "and verdict is null",
    }.ToImmutableSortedDictionary(StringComparer.Ordinal);

    /// <summary>The names.</summary>
    public static ImmutableArray<string> Names => [.. Known.Keys];

    /// <summary>The filter of a name; null where there is none.</summary>
    public static MemberFilter? Find(string name) => Known.TryGetValue(name, out var sql) ? new(sql) : null;
}
