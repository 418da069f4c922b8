using System.Globalization;
using Npgsql;
using NpgsqlTypes;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Service.Ingest;
using Traceability.Service.Security;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Shipments;

/// <summary>A unit that may not leave, with everything that is in its way.</summary>
internal sealed record BlockedUnit(UnitKey Unit, ImmutableArray<ReleaseBlocker> Blockers);

/// <summary>What came of a shipment that was asked for.</summary>
internal abstract record ShipmentAnswer
{
    /// <summary>It is recorded, of every unit.</summary>
    public sealed record Shipped(ImmutableArray<IngestAnswer.Recorded> Receipts) : ShipmentAnswer;

    /// <summary>It is refused; nothing is recorded of any unit.</summary>
    public sealed record Refused(Refusal Reason, ImmutableArray<BlockedUnit> Blocked) : ShipmentAnswer;

    /// <summary>It may or may not be recorded: ask again, with the same id.</summary>
    public sealed record Unavailable(IngestAnswer.Unavailable Later) : ShipmentAnswer;
}

/// <summary>Lets units leave: judges each at this moment, and records all of them in one transaction or none.</summary>
internal sealed class ShipmentDesk(UnitReader units, NpgsqlDataSource database, IIngest ingest, TimeProvider clock)
{
    /// <summary>Decides and records.</summary>
    public async Task<ShipmentAnswer> ShipAsync(AskedShipment asked, Caller caller, CancellationToken cancellation)
    {
        var now = GroupPlan.Moment(clock);
        var facts = asked.Units.Select(u => new UnitShipped(u, asked.Consignee, asked.OrderReference)
        {
            OccurredAt = now, Person = asked.Person, Station = asked.Station, SentBy = caller.Name, Shipment = asked.Id,
        }).ToArray();
        List<Fault> unknown = [];
        List<JudgedTree> trees = [];
        for (var i = 0; i < facts.Length; i++)
        {
            if (await units.FindTreeAsync(facts[i].Unit, [facts[i]], insideOf: null, cancellation) is { } tree)
            {
                trees.Add(tree);
            }
            else
            {
                unknown.Add(new($"/units/{i}", $"Unit {facts[i].Unit} is not known. Scan it again, or open it first."));
            }
        }

        if (unknown.Count > 0)
        {
            return Refuse(new("unit-unknown", RefusalKind.Unknown, $"{unknown.Count} of the {facts.Length} units are not known.", [.. unknown]));
        }

        if (trees[0].Judged.References.FindPerson(asked.Person) is null)
        {
            return Refuse(Refusal.At("person-unknown", RefusalKind.Unknown, "/person", $"Person {asked.Person} is not known. Define the person first."));
        }

        // A repeat is told from its first time by the ids, and not judged again: by now the units have left.
        var isRepeat = trees.TrueForAll(t => t.Judged.Unit.Find(asked.FactId(t.Judged.Unit.Key)) is not null);
        if (!isRepeat && (await OthersAsync(asked, cancellation) ?? Ask(trees, now)) is { } refused)
        {
            return refused;
        }

        return Answer(await ingest.SubmitTogetherAsync([.. facts.Select(f => new PostedFact(asked.FactId(f.Unit), asked.ContentHash(f.Unit), f))], cancellation));
    }

    private static ShipmentAnswer Answer(ImmutableArray<IngestAnswer> answers)
    {
        if (answers.OfType<IngestAnswer.Unavailable>().FirstOrDefault() is { } later)
        {
            return new ShipmentAnswer.Unavailable(later);
        }

        return answers.OfType<IngestAnswer.Refused>().FirstOrDefault() is { } refused
            ? Refuse(refused.Reason.Code == "fact-id-reused" ? IdReused : refused.Reason)
            : new ShipmentAnswer.Shipped([.. answers.Cast<IngestAnswer.Recorded>()]);
    }

    private static Refusal IdReused => Refusal.At(
        "fact-id-reused", RefusalKind.Contradiction, "/shipmentId", "A shipment with this id and other content is recorded already. Give every shipment an id of its own.");

    private static ShipmentAnswer.Refused Refuse(Refusal reason) => new(reason, []);

    private static ShipmentAnswer.Refused? Ask(List<JudgedTree> trees, DateTimeOffset now)
    {
        ImmutableArray<BlockedUnit> blocked =
        [
            .. trees.Select(t => new BlockedUnit(t.Judged.Unit.Key, Release.AskToShip(t.Assembled, now))).Where(b => !b.Blockers.IsEmpty),
        ];
        return blocked.IsEmpty
            ? null
            : new(
                new(
                    "shipment-blocked",
                    RefusalKind.Contradiction,
                    string.Create(CultureInfo.InvariantCulture, $"{blocked.Length} of {trees.Count} units may not leave, so none is shipped. What is in the way is listed for each; ship the others without them, or put it right."),
                    [.. blocked.Select(b => new Fault(
                        string.Create(CultureInfo.InvariantCulture, $"/units/{trees.FindIndex(t => t.Judged.Unit.Key == b.Unit)}"),
                        $"{b.Unit}: {string.Join(' ', b.Blockers.Select(r => r.Detail))}"))]),
                blocked);
    }

    // The same id for other units: those that both name would conflict, the others would not.
    private async Task<ShipmentAnswer.Refused?> OthersAsync(AskedShipment asked, CancellationToken cancellation)
    {
        await using var command = database.CreateCommand("select exists (select from traceability.shipment where shipment = $1)");
        command.Parameters.Add(new() { Value = asked.Id.ToString(), NpgsqlDbType = NpgsqlDbType.Text });
        return await command.ExecuteScalarAsync(cancellation) is true ? Refuse(IdReused) : null;
    }
}
