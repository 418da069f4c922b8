using System.Data;
using System.Globalization;
using System.Security.Cryptography;
using System.Text;
using Npgsql;
using NpgsqlTypes;
using Traceability.Contracts.Facts;
using Traceability.Contracts.Revisions;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Revisions;

/// <summary>Finds the units in process and plans the move of each, as it stands at the moment of asking.</summary>
internal sealed class MovePlanner(NpgsqlDataSource database, UnitReader units, TimeProvider clock)
{
    // Drawn once for this purpose; ids of the facts of a plan are made in it.
    private static readonly Guid Space = new("5c0e7d0e-6f5d-4a53-9d0b-5b8d6c1f2a97");

    /// <summary>The plan.</summary>
    public async Task<MovePlan> PlanAsync(ItemNumber item, Domain.Routings.RoutingRevision to, MoveAsked asked, CancellationToken cancellation)
    {
        var now = clock.GetUtcNow();
        List<string> serials;
        Contracts.Completeness completeness;
        await using (var connection = await database.OpenConnectionAsync(cancellation))
        await using (await connection.BeginTransactionAsync(IsolationLevel.RepeatableRead, cancellation))
        {
            completeness = await CompletenessReader.ReadAsync(connection, item, cancellation);
            serials = await SerialsAsync(connection, item, asked, cancellation);
        }

        var page = serials.Count > asked.Limit ? serials[..asked.Limit] : serials;
        var plans = new List<UnitMovePlan>(page.Count);
        foreach (var serial in page)
        {
            if (await units.FindAsync(new(item, SerialNumber.Parse(serial)), [], cancellation) is { } judged)
            {
                plans.Add(View(RevisionMove.Plan(judged.Unit, judged.References, to), asked, now));
            }
        }

        return new(item.Value, to.Revision.Value, now, plans, serials.Count > asked.Limit ? page[^1] : null, completeness);
    }

    private static async Task<List<string>> SerialsAsync(NpgsqlConnection connection, ItemNumber item, MoveAsked asked, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand(
            """
            select serial from traceability.unit
            where item = $1 and place in ('in-process', 'on-hold') and ($2::text is null or revision = $2)
              and ($3::text is null or (length(serial), serial collate "C") >= (length($3), $3))
              and ($4::text is null or (length(serial), serial collate "C") <= (length($4), $4))
              and ($5::text is null or (length(serial), serial collate "C") > (length($5), $5))
            order by length(serial), serial collate "C" limit $6
            """,
            connection)
        {
            Parameters =
            {
                new() { Value = item.Value },
                Text(asked.From?.Value),
                Text(asked.SerialFrom?.Value),
                Text(asked.SerialTo?.Value),
                Text(asked.After?.Value),
                new() { Value = asked.Limit + 1 },
            },
        };
        var serials = new List<string>();
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        while (await reader.ReadAsync(cancellation))
        {
            serials.Add(reader.GetString(0));
        }

        return serials;
    }

    private static NpgsqlParameter Text(string? text) => new() { Value = (object?)text ?? DBNull.Value, NpgsqlDbType = NpgsqlDbType.Text };

    private static UnitMovePlan View(RevisionMovePlan plan, MoveAsked asked, DateTimeOffset now) => new(
        Reference(plan.Unit),
        plan.Version,
        plan.From?.Value,
        EnumNames<MoveVerdict>.Of(plan.Verdict),
        [.. plan.CarriesOver.Select(Step)],
        [.. plan.Again.Select(Step)],
        [.. plan.Dropped.Select(s => s.Value)],
        [.. plan.Open.Select(s => s.Value)],
        [.. plan.Obstacles.Select(o => new MoveObstacleView(EnumNames<MoveBlock>.Of(o.Kind), o.Step?.Value, o.Message))],
        plan.Notes,
        plan.Verdict == MoveVerdict.CanMove ? Fact(plan, asked, now) : null);

    private static MovedStepView Step(MovedStep step) => new(step.Step.Value, step.Attempt, step.Passed, step.Why);

    private static UnitMovedToRevision Fact(RevisionMovePlan plan, MoveAsked asked, DateTimeOffset now)
    {
        var fact = new UnitMovedToRevision
        {
            OccurredAt = now,
            Person = asked.AuthorisedBy.Value,
            Unit = Reference(plan.Unit),
            Revision = plan.To.Value,
            CarriesOver = [.. plan.CarriesOver.Select(s => s.Step.Value)],
            Reason = asked.Reason,
            AuthorisedBy = asked.AuthorisedBy.Value,
            DecidedAtVersion = plan.Version,
        };
        return fact with { FactId = IdOf(fact) };
    }

    // Everything that the fact says goes into its id, so that two plans never give one id to two contents.
    private static Guid IdOf(UnitMovedToRevision fact)
    {
        var content = string.Join(
            '\n',
            [
                fact.Unit.Item,
                fact.Unit.Serial,
                fact.Revision,
                fact.DecidedAtVersion!.Value.ToString(CultureInfo.InvariantCulture),
                fact.OccurredAt.UtcDateTime.ToString("O", CultureInfo.InvariantCulture),
                fact.AuthorisedBy,
                string.Join(',', fact.CarriesOver!),
                fact.Reason,
            ]);

        // A UUID of version 8 from a namespace and a SHA-256: RFC 9562, section 5.8 and appendix B.2.
        var id = SHA256.HashData([.. Space.ToByteArray(bigEndian: true), .. Encoding.UTF8.GetBytes(content)]).AsSpan(0, 16);
        id[6] = (byte)((id[6] & 0x0F) | 0x80);
        id[8] = (byte)((id[8] & 0x3F) | 0x80);
        return new Guid(id, bigEndian: true);
    }

    private static UnitRef Reference(UnitKey key) => new() { Item = key.Item.Value, Serial = key.Serial.Value };
}
