using System.Text.Json;
using Npgsql;
using Traceability.Contracts;
using Traceability.Contracts.Containments;
using Traceability.Contracts.Scope;
using Traceability.Domain.Containments;
using Traceability.Domain.Primitives;
using Traceability.Domain.Yield;
using Traceability.Service.Http;
using Traceability.Service.Storage;
using Traceability.Service.Storage.Containments;

namespace Traceability.Service.Features.Containments;

/// <summary>Reads a case with its figures.</summary>
internal sealed class CaseReader(TimeProvider clock)
{
    /// <summary>The case; null where there is none.</summary>
    public async Task<ContainmentView?> FindAsync(NpgsqlConnection connection, ContainmentId id, CancellationToken cancellation)
    {
        if (await ContainmentRows.FindAsync(connection, id, cancellation) is not { } found)
        {
            return null;
        }

        var opened = found.Opened!;
        return new(
            clock.GetUtcNow(),
            id.Value,
            opened.Title,
            opened.Reason,
            EnumNames<ContainmentState>.Of(found.State),
            opened.At,
            opened.Person?.Value,
            JsonSerializer.Deserialize<SuspectNode>(opened.Question, WireJson.Options)!,
            opened.QuestionInWords,
            opened.HoldsLate,
            found.Runs.Count > 0,
            found.HasUnreadable,
            await FiguresAsync(connection, found, cancellation),
            [.. found.Runs.Select(r => new ContainmentRunView(r.Run, r.AsOf, r.IsComplete, r.MemberCount, r.Added, r.Changed, r.NotReached, r.Remarks))],
            [.. found.Words.Select(w => new ContainmentWordView(w.Record, w.At, w.Person?.Value, w.Words, w.Lacking))],
            await CompletenessReader.ReadAsync(connection, null, cancellation));
    }

    private static async Task<ContainmentFiguresView> FiguresAsync(NpgsqlConnection connection, Containment found, CancellationToken cancellation)
    {
        var places = await PlacesAsync(connection, found.Id, cancellation);
        var members = found.Members.Values.ToArray();
        var left = places.Where(p => p.Place == "shipped").ToArray();
        var times = TimeToContain.Of(found.Opened!.At, members.Select(m => Earlier(m.HeldAt, m.FirstFollowedUpAt)).OfType<DateTimeOffset>());
        return new(
            members.Length,
            Counts(members.Select(m => m.Verdict is { } v ? EnumNames<Domain.Scope.ScopeVerdict>.Of(v) : "not-reached")),
            Sums(places.Select(p => (p.Place, p.Count))),
            Counts(members.Where(m => m.Outcome is not null).Select(m => EnumNames<FollowUpOutcome>.Of(m.Outcome!.Outcome))),
            places.Where(p => p.IsHeld).Sum(p => p.Count),
            members.Count(m => m.Outcome is not null),
            found.OpenCount,
            members.Count(m => m.IsLate),
            found.LateCount,
            new Proportion(members.Length - found.OpenCount, members.Length).ToShare(),
            left.Sum(p => p.Count),
            new Proportion(left.Where(p => p.IsFinal).Sum(p => p.Count), left.Sum(p => p.Count)).ToShare(),
            Sums(left.Where(p => p.Outcome is not null).Select(p => (p.Outcome!, p.Count))),
            new(times.Count, Duration(times.Median), Duration(times.Longest)));
    }

    private static async Task<List<(string Place, bool IsHeld, string? Outcome, bool IsFinal, int Count)>> PlacesAsync(
        NpgsqlConnection connection, ContainmentId id, CancellationToken cancellation)
    {
        var places = new List<(string Place, bool IsHeld, string? Outcome, bool IsFinal, int Count)>();
        await using var command = new NpgsqlCommand(
            $"""
            with recursive m as (select unit, outcome, is_final from traceability.containment_member where containment = $1),
            {MemberRows.Located}
            select coalesce(t.place, 'in-process'),
                coalesce(t.place not in ('shipped', 'scrapped') and (string_to_array(t.holds, ' ') @> array[$1] or string_to_array(o.holds, ' ') @> array[$1]), false),
                m.outcome, m.is_final, count(*)::integer
            from m join located l on l.unit = m.unit
            left join lateral (select place, holds from traceability.unit where unit = l.top offset 0) t on true
            left join lateral (select holds from traceability.unit where unit = m.unit offset 0) o on true
            group by 1, 2, 3, 4
            """,
            connection);
        command.Parameters.Add(new() { Value = id.Value, NpgsqlDbType = NpgsqlTypes.NpgsqlDbType.Text });
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        while (await reader.ReadAsync(cancellation))
        {
            places.Add((reader.GetString(0), reader.GetBoolean(1), reader.IsDBNull(2) ? null : reader.GetString(2), reader.GetBoolean(3), reader.GetInt32(4)));
        }

        return places;
    }

    private static NamedCount[] Counts(IEnumerable<string> names) => Sums(names.Select(n => (n, 1)));

    private static NamedCount[] Sums(IEnumerable<(string Name, int Count)> counts) =>
        [.. counts.GroupBy(c => c.Name, StringComparer.Ordinal).OrderBy(g => g.Key, StringComparer.Ordinal).Select(g => new NamedCount(g.Key, g.Sum(c => c.Count)))];

    private static DateTimeOffset? Earlier(DateTimeOffset? a, DateTimeOffset? b) => a is null || b < a ? b ?? a : a;

    private static string? Duration(TimeSpan? time) => time is { } value ? IsoDuration.Write(value) : null;
}
