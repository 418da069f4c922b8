using Microsoft.AspNetCore.Http.HttpResults;
using Npgsql;
using Traceability.Contracts.Dispersion;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;
using Traceability.Service.Storage;
using Traceability.Service.Storage.Answers;

namespace Traceability.Service.Features.Dispersion;

/// <summary>GET /api/lots/{item}/{lot}/dispersion.</summary>
internal static class GetLotDispersionEndpoint
{
    private const int ConsigneesMax = 100;

    /// <summary>
    /// The finished units of a lot by place, consignee and day. Parameters: item, lot. Every step starts from keys and looks up the next by
    /// its index, whatever the planner believes of their number.
    /// </summary>
    internal const string Sql =
        """
        with recursive uses as materialized (
            select unit, min(used_from) as used_from, max(used_to) as used_to from traceability.material_usage where item = $1 and lot = $2 group by unit),
        climb (unit, top, depth) as (
            select unit, unit, 0 from uses
            union all select c.unit, i.parent, c.depth + 1 from climb c cross join lateral (
                select parent from traceability.installation where component = c.top and installed_to is null
                order by installed_from desc, row_id, parent limit 1) i
            where c.depth < 32),
        outermost as materialized (select distinct on (unit) unit, top from climb order by unit, depth desc),
        finished as (
            select o.top, count(*) as units, min(u.used_from) as used_from, max(u.used_to) as used_to
            from outermost o join uses u on u.unit = o.unit group by o.top)
        select coalesce(s.place, 'not-recorded'), s.consignee, s.day, count(*)::integer, sum(f.units)::integer, min(f.used_from), max(f.used_to)
        from finished f left join lateral (
            select place, case when place = 'shipped' then consignee end as consignee,
                case when place = 'shipped' then (since at time zone 'UTC')::date end as day
            from traceability.unit where unit = f.top offset 0) s on true
        group by 1, 2, 3
        """;

    public static async Task<Results<Ok<LotDispersionAnswer>, ProblemHttpResult>> HandleAsync(
        string item, string lot, AnswerDatabase database, TimeProvider clock, CancellationToken cancellation)
    {
        var path = new PathCodes();
        var key = new LotKey(path.Read<ItemNumber>("item", item), path.Read<LotNumber>("lot", lot));
        if (path.Refusal is { } refusal)
        {
            return refusal.ToProblem();
        }

        var asOf = clock.GetUtcNow();
        await using var session = await database.OpenAsync(cancellation);
        var connection = session.Connection;
        await using var command = new NpgsqlCommand(Sql, connection) { Parameters = { new() { Value = key.Item.Value }, new() { Value = key.Lot.Value } } };
        var groups = await DispersionRows.ReadAsync(command, Group.Read, cancellation);
        var lots = await LotNaming.LoadAsync(connection, [key], cancellation);
        if (groups.Count == 0 && lots.GetValueOrDefault(key)?.Origin is null)
        {
            return Refusal.At("lot-unknown", RefusalKind.Unknown, "lot", $"Lot {key} was never received and no record names it. Check item and lot number.").ToProblem();
        }

        var completeness = await CompletenessReader.ReadAsync(connection, null, cancellation);
        var (countedAt, _) = await DispersionRows.CountedAsync(connection, cancellation);
        var mixing = await DispersionRows.ItemsAsync(connection, [key.Item.Value], cancellation);
        var made = lots.Values.Where(l => l.Key != key && l.Sources().Any()).Select(l => l.Key).Where(k => lots[k].Sources().Contains(key)).ToArray();
        return TypedResults.Ok(Answer(asOf, key, groups, completeness) with
        {
            Mixing = mixing.Count == 0 ? null : mixing[0],
            MixingCountedAt = countedAt,
            Remarks =
            [
                "Counted by what records name and where units are now. Units whose record is missing are not in it: ask for the scope of the lot.",
                .. made.Length == 0 ? Array.Empty<string>() : [$"Material of the lot went into {string.Join(", ", made.Take(10))}{(made.Length > 10 ? " and others" : string.Empty)}: what these are in is not counted here."],
            ],
        });
    }

    private static LotDispersionAnswer Answer(DateTimeOffset asOf, LotKey key, List<Group> groups, Contracts.Completeness completeness)
    {
        Group[] shipped = [.. groups.Where(g => g.Place == "shipped")];
        DispersionConsignee[] consignees =
        [
            .. shipped.GroupBy(g => g.Consignee ?? string.Empty, StringComparer.Ordinal)
                .Select(g => new DispersionConsignee(g.Key, g.Sum(x => x.Finished), g.Count()))
                .OrderByDescending(c => c.Units).ThenBy(c => c.Consignee, StringComparer.Ordinal),
        ];
        return new(
            asOf,
            new(
                key.Item.Value,
                key.Lot.Value,
                groups.Sum(g => g.Units),
                groups.Sum(g => g.Finished),
                shipped.Sum(g => g.Finished),
                shipped.Length,
                consignees.Length,
                groups.Count == 0 ? null : groups.Min(g => g.UsedFrom),
                groups.Count == 0 ? null : groups.Max(g => g.UsedTo)),
            [
                .. groups.GroupBy(g => g.Place, StringComparer.Ordinal).OrderBy(g => g.Key, StringComparer.Ordinal)
                    .Select(g => new DispersionPlace(g.Key, g.Sum(x => x.Finished))),
            ],
            [.. consignees.Take(ConsigneesMax)],
            Math.Max(0, consignees.Length - ConsigneesMax),
            null,
            null,
            completeness,
            []);
    }

    private sealed record Group(string Place, string? Consignee, DateOnly? Day, int Finished, int Units, DateTimeOffset UsedFrom, DateTimeOffset UsedTo)
    {
        public static Group Read(NpgsqlDataReader r) => new(
            r.GetString(0),
            r.IsDBNull(1) ? null : r.GetString(1),
            r.IsDBNull(2) ? null : r.GetFieldValue<DateOnly>(2),
            r.GetInt32(3),
            r.GetInt32(4),
            r.GetFieldValue<DateTimeOffset>(5),
            r.GetFieldValue<DateTimeOffset>(6));
    }
}
