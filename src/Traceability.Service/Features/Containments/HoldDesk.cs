using System.Globalization;
using Npgsql;
using Traceability.Contracts.Containments;
using Traceability.Domain.Containments;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Service.Ingest;

namespace Traceability.Service.Features.Containments;

/// <summary>Places holds in the name of a case on what has not left, and lifts them where an outcome asks for none.</summary>
/// <remarks>
/// A member inside another unit is stopped by a hold on the outermost one. Doing it twice does nothing twice. A hold of another
/// cause is never touched.
/// </remarks>
internal sealed class HoldDesk(NpgsqlDataSource database, CaseFacts facts, TimeProvider clock)
{
    // So many facts wait for their answers at once.
    private const int AtOnce = 200;
    private const int ShownMax = 1_000;

    /// <summary>Sets the holds of every member.</summary>
    /// <param name="id">The case, which is known.</param>
    /// <param name="onlyLate">Only places holds, and only for members that came late.</param>
    /// <param name="person">Who asked for it; null: the service by itself.</param>
    /// <param name="sender">The name of the key.</param>
    /// <param name="cancellation">Gives up; what was done stays.</param>
    /// <exception cref="CaseNotStoredException">Some holds may not be set: ask again.</exception>
    public async Task<HoldsSet> SetAsync(ContainmentId id, bool onlyLate, PersonCode? person, string sender, CancellationToken cancellation)
    {
        await using var connection = await database.OpenConnectionAsync(cancellation);
        await using var alone = await CaseLock.TakeAsync(connection, id, cancellation);
        var (members, held) = await ReadAsync(connection, id, onlyLate ? MemberFilter.Find("late") : null, cancellation);
        var wanted = members.Where(m => Needs(m)).Select(m => m.Top).ToHashSet();
        var now = GroupPlan.Moment(clock);
        var placing = wanted.Where(u => !held.Contains(u)).ToArray();

        // A hold stays while a member is not settled: on one that was taken out of a unit that is stopped, and on one that left all the same.
        var keep = members.Where(m => !m.IsSettled).SelectMany(m => new[] { m.Unit, m.Top }).ToHashSet();
        var lifting = onlyLate ? [] : held.Where(u => !keep.Contains(u)).ToArray();
        var refused = await TellAsync(placing, u => new UnitHeld(u, $"Containment {id}") { OccurredAt = now, Person = person, SentBy = sender, Hold = id.Hold }, id, now, cancellation);
        foreach (var (unit, why) in await TellAsync(
            lifting, u => new UnitHoldLifted(u, $"Containment {id}: the outcome asks for no hold") { OccurredAt = now, Person = person, SentBy = sender, Hold = id.Hold }, id, now, cancellation))
        {
            refused[unit] = why;
        }

        await NoteAsync(id, members, [.. held.Union(placing).Except(lifting).Except(refused.Keys)], now, person, sender, cancellation);
        return Answer(members, [.. placing], [.. lifting], refused);
    }

    private static bool Needs(MemberRow member) => !member.IsSettled && member.Place is not ("shipped" or "scrapped");

    private static async Task<(List<MemberRow> Members, HashSet<UnitKey> Held)> ReadAsync(NpgsqlConnection connection, ContainmentId id, MemberFilter? filter, CancellationToken cancellation)
    {
        var members = await MemberRows.ReadAsync(connection, id, filter, null, int.MaxValue, cancellation);
        var held = new HashSet<UnitKey>();
        await using var command = new NpgsqlCommand(
            "select unit from traceability.unit where holds is not null and string_to_array(holds, ' ') @> array[$1]", connection);
        command.Parameters.Add(new() { Value = id.Value });
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        while (await reader.ReadAsync(cancellation))
        {
            held.Add(UnitKey.Parse(reader.GetString(0)));
        }

        return (members, held);
    }

    private async Task<Dictionary<UnitKey, string>> TellAsync(
        UnitKey[] units, Func<UnitKey, Fact> fact, ContainmentId id, DateTimeOffset now, CancellationToken cancellation)
    {
        var refused = new Dictionary<UnitKey, string>();
        foreach (var chunk in units.Chunk(AtOnce))
        {
            var answers = await Task.WhenAll(chunk.Select(async u =>
            {
                var told = fact(u);
                var name = string.Create(CultureInfo.InvariantCulture, $"containment {id} {told.GetType().Name} {u} at {now.UtcTicks}");
                return (Unit: u, Refusal: await facts.RecordAsync(name, told, cancellation));
            }));
            foreach (var (unit, refusal) in answers)
            {
                if (refusal is not null)
                {
                    refused[unit] = refusal.Detail;
                }
            }
        }

        return refused;
    }

    // The case notes when its members were stopped, as far as it has not.
    private async Task NoteAsync(
        ContainmentId id, List<MemberRow> members, HashSet<UnitKey> held, DateTimeOffset now, PersonCode? person, string sender, CancellationToken cancellation)
    {
        var placed = members.Where(m => IsStopped(m) && (m.HeldAt is null || m.LiftedAt is not null)).Select(m => m.Unit).ToArray();

        // A hold ends with the member's leaving as with its lifting, but only the lifting is a decision.
        var lifted = members.Where(m => !IsStopped(m) && m.HeldAt is not null && m.LiftedAt is null && Place(m)).Select(m => m.Unit).ToArray();
        var parts = placed.Select(u => (Unit: u, IsPlaced: true)).Concat(lifted.Select(u => (Unit: u, IsPlaced: false))).Chunk(CaseFacts.UnitsMax);
        foreach (var (part, number) in parts.Select((p, i) => (p, i)))
        {
            var fact = new ContainmentHoldsSet(id, [.. part.Where(p => p.IsPlaced).Select(p => p.Unit)], [.. part.Where(p => !p.IsPlaced).Select(p => p.Unit)])
            {
                OccurredAt = now, Person = person, SentBy = sender,
            };
            var name = string.Create(CultureInfo.InvariantCulture, $"containment {id} holds {number} at {now.UtcTicks}");
            if (await facts.RecordAsync(name, fact, cancellation) is { } refusal)
            {
                throw new InvalidOperationException($"What was done for a case was refused with {refusal.Code}: {refusal.Detail}");
            }
        }

        bool IsStopped(MemberRow m) => m.Place is not ("shipped" or "scrapped") && (held.Contains(m.Top) || held.Contains(m.Unit));

        static bool Place(MemberRow m) => m.Place is not ("shipped" or "scrapped");
    }

    private static HoldsSet Answer(List<MemberRow> members, HashSet<UnitKey> placing, HashSet<UnitKey> lifting, Dictionary<UnitKey, string> refused)
    {
        var results = members.Select(m => (Member: m, Result: ResultOf(m, placing, lifting, refused))).ToArray();
        return new(
            [.. results.GroupBy(r => r.Result, StringComparer.Ordinal).OrderBy(g => g.Key, StringComparer.Ordinal).Select(g => new NamedCount(g.Key, g.Count()))],
            [
                .. results.OrderBy(r => r.Result is "refused" ? 0 : r.Result is "held" or "lifted" ? 1 : 2)
                    .Take(ShownMax)
                    .Select(r => new HoldResult(
                        MemberRow.Reference(r.Member.Unit),
                        r.Result is "held" or "already-held" ? MemberRow.Reference(r.Member.Top) : null,
                        r.Result,
                        r.Result == "refused" ? refused.GetValueOrDefault(r.Member.Top) ?? refused.GetValueOrDefault(r.Member.Unit) : null)),
            ]);
    }

    private static string ResultOf(MemberRow member, HashSet<UnitKey> placing, HashSet<UnitKey> lifting, Dictionary<UnitKey, string> refused)
    {
        if (refused.ContainsKey(member.Top) || refused.ContainsKey(member.Unit))
        {
            return "refused";
        }

        return member.Place == "shipped" ? "left"
            : member.Place == "scrapped" ? "scrapped"
            : member.IsSettled ? lifting.Contains(member.Top) || lifting.Contains(member.Unit) ? "lifted" : "settled"
            : placing.Contains(member.Top) ? "held" : "already-held";
    }
}
