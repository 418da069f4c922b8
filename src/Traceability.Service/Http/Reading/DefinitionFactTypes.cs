using Traceability.Domain.Items;
using Traceability.Domain.Lots;
using Traceability.Domain.People;
using Traceability.Domain.Primitives;
using Traceability.Domain.Routings;
using Traceability.Domain.Sites;

namespace Traceability.Service.Http.Reading;

/// <summary>Reads the facts about lots, people, sites, items and routings.</summary>
internal static class DefinitionFactTypes
{
    public static ImmutableArray<FactType> All { get; } =
    [
        FactType.Of("lot-received", Received, "lot", "supplierLot", "supplier", "quantity", "expiresAt", "isReleased", "stations"),
        FactType.Of("lot-released", (o, c) => new LotReleased(LotOf(o)) { OccurredAt = c.At, Station = c.Station, Person = c.Person }, "lot"),
        FactType.Of("lot-quarantined", (o, c) => new LotQuarantined(LotOf(o), o.Text("reason")) { OccurredAt = c.At, Station = c.Station, Person = c.Person }, "lot", "reason"),
        FactType.Of(
            "lot-expiry-set",
            (o, c) => new LotExpirySet(LotOf(o), o.Time("expiresAt"), o.Text("reason")) { OccurredAt = c.At, Station = c.Station, Person = c.Person },
            "lot", "expiresAt", "reason"),
        FactType.Of("lot-moved", (o, c) => new LotMoved(LotOf(o), o.Codes<StationCode>("stations")) { OccurredAt = c.At, Station = c.Station, Person = c.Person }, "lot", "stations"),
        FactType.Of("lot-emptied", (o, c) => new LotEmptied(LotOf(o)) { Discarded = o.ValueOrNull("discarded", Parts.Amount), OccurredAt = c.At, Station = c.Station, Person = c.Person }, "lot", "discarded"),
        FactType.Of(
            "container-opened",
            (o, c) => new ContainerOpened(LotOf(o), o.Code<ContainerNumber>("container"), o.Codes<StationCode>("stations"))
            {
                Quantity = o.ValueOrNull("quantity", Parts.Amount), OccurredAt = c.At, Station = c.Station, Person = c.Person,
            },
            "lot", "container", "stations", "quantity"),
        FactType.Of(
            "container-emptied",
            (o, c) => new ContainerEmptied(LotOf(o), o.Code<ContainerNumber>("container"))
            {
                Discarded = o.ValueOrNull("discarded", Parts.Amount), OccurredAt = c.At, Station = c.Station, Person = c.Person,
            },
            "lot", "container", "discarded"),
        .. LotFactTypes.All,
        FactType.Of(
            "person-defined",
            (o, c) => new PersonDefined(o.Code<PersonCode>("subject"), o.Text("displayName")) { OccurredAt = c.At, Station = c.Station, Person = c.Person },
            "subject", "displayName"),
        FactType.Of("qualification-granted", Granted, "subject", "qualification", "validUntil"),
        FactType.Of("qualification-withdrawn", Withdrawn, "subject", "qualification", "reason"),
        FactType.Of("site-defined", SiteIs, "site", "description", "timeZone"),
        FactType.Of("station-defined", StationIs, "subject", "site", "description"),
        FactType.Of("item-defined", ItemIs, "item", "kind", "description", "variants", "lifeAfterOpening", "cure", "needsInspection", "approvalsNeeded", "mix", "potLife", "potLifeByTemperature", "openedLifeByTemperature", "openTimeByTemperature"),
        FactType.Of(
            "defect-code-defined",
            (o, c) => new DefectCodeDefined(o.Code<Code>("defect"), o.Text("description")) { OccurredAt = c.At, Station = c.Station, Person = c.Person },
            "defect", "description"),
        FactType.Of("routing-drafted", Drafted, "revision"),
        FactType.Of("routing-released", Released, "item", "revision", "releasedBy"),
        FactType.Of("temperature-recorded", CureReader.Temperatures, "place", "readings"),
        FactType.Of(
            "routing-approved",
            (o, c) => new RoutingApproved(o.Code<ItemNumber>("item"), o.Code<RevisionCode>("revision"), o.Code<PersonCode>("approvedBy")) { OccurredAt = c.At, Station = c.Station, Person = c.Person },
            "item", "revision", "approvedBy"),
        FactType.Of("replacement-declared", Declared, "item", "replaced", "with", "revisions", "validFrom", "reason", "authorisedBy"),
        FactType.Of("training-completed", Trained, "subject", "topic", "trainer", "evidence", "grants", "validUntil"),
    ];

    private static LotKey LotOf(ObjectReading o) => o.Value("lot", Parts.Lot);

    private static LotReceived Received(ObjectReading o, CommonMembers c) =>
        new(
            LotOf(o),
            o.TextOrNull("supplierLot"),
            o.ValueOrNull("quantity", Parts.Amount),
            o.TimeOrNull("expiresAt"),
            o.Flag("isReleased"),
            o.Codes<StationCode>("stations"))
        {
            Supplier = o.TextOrNull("supplier"),
            OccurredAt = c.At, Station = c.Station, Person = c.Person,
        };

    private static QualificationGranted Granted(ObjectReading o, CommonMembers c) =>
        new(o.Code<PersonCode>("subject"), o.Code<Code>("qualification"), o.TimeOrNull("validUntil"))
        {
            OccurredAt = c.At, Station = c.Station, Person = c.Person,
        };

    private static QualificationWithdrawn Withdrawn(ObjectReading o, CommonMembers c) =>
        new(o.Code<PersonCode>("subject"), o.Code<Code>("qualification"), o.Text("reason"))
        {
            OccurredAt = c.At, Station = c.Station, Person = c.Person,
        };

    private static TrainingCompleted Trained(ObjectReading o, CommonMembers c)
    {
        var training = new TrainingCompleted(
            o.Code<PersonCode>("subject"),
            o.Code<Code>("topic"),
            o.CodeOrNull<PersonCode>("trainer"),
            o.TextOrNull("evidence"),
            o.Codes<Code>("grants"),
            o.TimeOrNull("validUntil"))
        {
            OccurredAt = c.At, Station = c.Station, Person = c.Person,
        };
        if (training.Trainer == training.Subject && training.Subject != default)
        {
            o.Fail("trainer", "Nobody trains himself. Leave it out where there was no trainer.");
        }

        return training;
    }

    private static ReplacementDeclared Declared(ObjectReading o, CommonMembers c)
    {
        var declared = new ReplacementDeclared(
            o.Code<ItemNumber>("item"),
            o.Code<ItemNumber>("replaced"),
            o.Code<ItemNumber>("with"),
            o.Codes<RevisionCode>("revisions"),
            o.TimeOrNull("validFrom"),
            o.Text("reason"),
            o.Code<PersonCode>("authorisedBy"))
        {
            OccurredAt = c.At, Station = c.Station, Person = c.Person,
        };
        if (declared.With == declared.Replaced && declared.With != default)
        {
            o.Fail("with", "An item needs no leave to be put in its own place. Name the other item.");
        }

        return declared;
    }

    private static SiteDefined SiteIs(ObjectReading o, CommonMembers c) =>
        new(o.Code<SiteCode>("site"), o.Text("description"), o.Text("timeZone"))
        {
            OccurredAt = c.At, Station = c.Station, Person = c.Person,
        };

    private static StationDefined StationIs(ObjectReading o, CommonMembers c) =>
        new(o.Code<StationCode>("subject"), o.Code<SiteCode>("site"), o.Text("description"))
        {
            OccurredAt = c.At, Station = c.Station, Person = c.Person,
        };

    private static ItemDefined ItemIs(ObjectReading o, CommonMembers c)
    {
        var item = new ItemDefined(
            o.Code<ItemNumber>("item"),
            o.OneOf<ItemKind>("kind"),
            o.Text("description"),
            o.Codes<VariantCode>("variants"),
            o.DurationOrNull("lifeAfterOpening"))
        {
            OccurredAt = c.At,
            Station = c.Station,
            Person = c.Person,
            Cure = o.Has("cure") ? o.Object("cure", CureReader.Table) : null,
            NeedsInspection = o.Has("needsInspection") ? o.Flag("needsInspection") : null,
            ApprovalsNeeded = o.Has("approvalsNeeded") ? o.Count("approvalsNeeded", absent: 1, WireLimits.ApprovalsMax) : null,
            Mix = o.Has("mix") ? o.Object("mix", LifeReader.Mix) : null,
            PotLife = o.DurationOrNull("potLife"),
            PotLifeByTemperature = o.Has("potLifeByTemperature") ? o.Object("potLifeByTemperature", LifeReader.Table) : null,
            OpenedLifeByTemperature = o.Has("openedLifeByTemperature") ? o.Object("openedLifeByTemperature", LifeReader.Table) : null,
            OpenTimeByTemperature = o.Has("openTimeByTemperature") ? o.Object("openTimeByTemperature", LifeReader.Table) : null,
        };
        LifeReader.Check(o, item);
        if (item is { Cure: not null, Kind: not ItemKind.Consumable })
        {
            o.Fail("cure", "Only a consumable cures.");
        }

        return item;
    }

    private static RoutingDrafted Drafted(ObjectReading o, CommonMembers c) =>
        new(o.Object("revision", RoutingReader.Read)!) { OccurredAt = c.At, Station = c.Station, Person = c.Person };

    private static RoutingReleased Released(ObjectReading o, CommonMembers c) =>
        new(o.Code<ItemNumber>("item"), o.Code<RevisionCode>("revision"), o.CodeOrNull<PersonCode>("releasedBy"))
        {
            OccurredAt = c.At, Station = c.Station, Person = c.Person,
        };
}
