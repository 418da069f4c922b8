using System.Text.Json.Nodes;
using Traceability.Acceptance.Robustness;
using Traceability.Domain.Facts;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;
using Traceability.Domain.Tools;
using Traceability.Testing.Scope;
using Traceability.Testing.Scope.Facts;

namespace Traceability.Acceptance.Scopes;

/// <summary>Writes facts of made-up histories as terminals send them.</summary>
internal static class WireFacts
{
    /// <summary>What must be known before anything is told of works with these names.</summary>
    /// <param name="plants">The works.</param>
    public static List<Sent> Definitions(IReadOnlyList<Plant> plants)
    {
        var ids = 0;
        List<Sent> facts = [Define("site-defined", ("site", "WORKS"), ("description", "Works"), ("timeZone", "Europe/Lisbon"))];
        facts.AddRange(Plant.Stations.Select(s => Define("station-defined", ("subject", s.Value), ("site", "WORKS"), ("description", "Bench"))));
        foreach (var plant in plants)
        {
            facts.AddRange(plant.People.Select(p => Define("person-defined", ("subject", p.Value), ("displayName", p.Value))));
            (ItemNumber Item, string Kind)[] items =
            [
                (plant.Adhesive, "consumable"), (plant.Alternative, "consumable"), (plant.Pin, "part"), (plant.Sub, "subassembly"), (plant.Top, "product"),
            ];
            facts.AddRange(items.Select(i => i.Item == plant.Sub
                ? Define("item-defined", ("item", i.Item.Value), ("kind", i.Kind), ("description", "made up"), ("variants", Texts([Plant.Variant.Value])))
                : Define("item-defined", ("item", i.Item.Value), ("kind", i.Kind), ("description", "made up"))));
            facts.AddRange(new[] { plant.Tool, plant.OtherTool }.Select(t =>
                Define("tool-defined", ("tool", t.Value), ("toolClass", plant.ToolClass.Value), ("description", "driver"), ("needsCalibration", true))));
            foreach (var routing in plant.Routings())
            {
                facts.Add(Define("routing-drafted", ("revision", Routing(routing))));
                facts.Add(Define("routing-released", ("item", routing.Item.Value), ("revision", routing.Revision.Value), ("releasedBy", plant.People[0].Value)));
            }
        }

        return facts;

        Sent Define(string type, params (string Name, JsonNode? Value)[] members)
        {
            var id = new Guid(++ids, 9, 9, [1, 1, 1, 1, 1, 1, 1, 1]);
            var body = new JsonObject { ["factId"] = id.ToString(), ["type"] = type, ["occurredAt"] = Time(RandomGenealogy.At(-200).AddSeconds(0.1 * ids)) };
            foreach (var (name, value) in members)
            {
                body[name] = value;
            }

            return new(id, type, body.ToJsonString(), TimeSpan.Zero);
        }
    }

    /// <summary>One fact.</summary>
    /// <param name="told">The fact, with the id in its history.</param>
    /// <param name="history">The number of its history: ids are one's own in each.</param>
    public static Sent Write(RecordedFact told, int history)
    {
        var body = Content(told.Fact, history);
        body["factId"] = Id(told.Id, history).ToString();
        return new(Id(told.Id, history), body["type"]!.GetValue<string>(), body.ToJsonString(), TimeSpan.Zero);
    }

    private static Guid Id(Guid id, int history)
    {
        var bytes = id.ToByteArray();
        BitConverter.TryWriteBytes(bytes.AsSpan(8), history + 1);
        return new(bytes);
    }

    private static JsonObject Content(Fact fact, int history)
    {
        var (type, members) = Members(fact, history);
        members["type"] = type;
        members["occurredAt"] = Time(fact.OccurredAt);
        Put(members, "station", fact.Station?.Value);
        Put(members, "person", fact.Person?.Value);
        return members;
    }

    private static (string Type, JsonObject Members) Members(Fact fact, int history) => fact switch
    {
        RecordCorrected c => ("record-corrected", new()
        {
            ["record"] = Id(c.Record, history).ToString(), ["replacement"] = Content(c.Replacement, history), ["reason"] = c.Reason, ["authorisedBy"] = c.AuthorisedBy.Value,
        }),
        RecordVoided v => ("record-voided", new() { ["record"] = Id(v.Record, history).ToString(), ["reason"] = v.Reason, ["authorisedBy"] = v.AuthorisedBy.Value }),
        UnitOpened o => ("unit-opened", With(Unit(o.Unit), ("variant", o.Variant?.Value), ("lot", o.Lot?.Value))),
        StepStarted s => ("step-started", With(Unit(s.Unit), ("step", s.Step.Value))),
        StepCompleted s => ("step-completed", Completed(s)),
        ComponentInstalled i => ("component-installed", With(Unit(i.Unit), ("position", i.Position.Value), ("component", Key(i.Component)), ("step", i.Step?.Value))),
        ComponentRemoved r => ("component-removed", With(Unit(r.Unit), ("position", r.Position.Value), ("component", Key(r.Component)), ("reason", r.Reason))),
        UnitMovedToRevision m => ("unit-moved-to-revision", With(
            Unit(m.Unit), ("revision", m.Revision.Value), ("carriesOver", Texts(m.CarriesOver.Select(s => s.Value))), ("reason", m.Reason), ("authorisedBy", m.AuthorisedBy.Value))),
        UnitReleased r => ("unit-released", Unit(r.Unit)),
        UnitShipped s => ("unit-shipped", With(Unit(s.Unit), ("consignee", s.Consignee))),
        UnitScrapped s => ("unit-scrapped", With(Unit(s.Unit), ("reason", s.Reason))),
        LotReceived r => ("lot-received", With(OfLot(r.Lot), ("supplierLot", r.SupplierLot), ("isReleased", r.IsReleased), ("stations", Texts(r.Stations.Select(s => s.Value))))),
        LotMoved m => ("lot-moved", With(OfLot(m.Lot), ("stations", Texts(m.Stations.Select(s => s.Value))))),
        LotQuarantined q => ("lot-quarantined", With(OfLot(q.Lot), ("reason", q.Reason))),
        LotReleased r => ("lot-released", OfLot(r.Lot)),
        LotEmptied e => ("lot-emptied", OfLot(e.Lot)),
        ContainerOpened o => ("container-opened", With(OfLot(o.Lot), ("container", o.Container.Value), ("stations", Texts(o.Stations.Select(s => s.Value))))),
        ContainerEmptied e => ("container-emptied", With(OfLot(e.Lot), ("container", e.Container.Value))),
        LotSplit s => ("lot-split", With(OfLot(s.Lot), ("source", Source(s.Source)), ("stations", Texts(s.Stations.Select(t => t.Value))))),
        LotMerged m => ("lot-merged", With(OfLot(m.Lot), ("sources", new JsonArray([.. m.Sources.Select(Source)])), ("stations", Texts(m.Stations.Select(t => t.Value))))),
        LotMixed m => ("lot-mixed", With(OfLot(m.Lot), ("parts", new JsonArray([.. m.Parts.Select(Source)])), ("stations", Texts(m.Stations.Select(t => t.Value))))),
        ToolCalibrated c => ("tool-calibrated", new() { ["tool"] = c.Tool.Value, ["foundGood"] = c.FoundGood, ["leftGood"] = c.LeftGood }),
        ToolChecked c => ("tool-checked", With(
            new() { ["tool"] = c.Tool.Value }, ("setting", c.Setting?.Value), ("readings", new JsonArray([.. c.Readings.Select(Quantity)])), ("lower", Quantity(c.Lower!.Value)), ("upper", Quantity(c.Upper!.Value)))),
        _ => throw new System.Diagnostics.UnreachableException(),
    };

    private static JsonObject Completed(StepCompleted s) => With(
        Unit(s.Unit),
        ("step", s.Step.Value),
        ("startedAt", s.StartedAt is { } started ? Time(started) : null),
        ("materials", new JsonArray([.. s.Materials.Select(m => With(new() { ["item"] = m.Item.Value, ["lots"] = Texts(m.Lots.Select(l => l.Value)) }, ("container", m.Container?.Value)))])),
        ("tools", new JsonArray([.. s.Tools.Select(t => With(new() { ["tool"] = t.Tool.Value }, ("setting", t.Setting?.Value)))])),
        ("measurements", new JsonArray([.. s.Measurements.Select(m => With(
            new() { ["characteristic"] = m.Characteristic.Value, ["value"] = m.Value, ["unit"] = m.Unit }, ("standardUncertainty", m.StandardUncertainty)))])),
        ("checks", new JsonArray([.. s.Checks.Select(c => new JsonObject { ["characteristic"] = c.Characteristic.Value, ["passed"] = c.Passed })])),
        ("components", new JsonArray([.. s.Components.Select(c => new JsonObject { ["position"] = c.Position.Value, ["component"] = Key(c.Component) })])));

    private static JsonObject Routing(RoutingRevision revision) => new()
    {
        ["item"] = revision.Item.Value,
        ["revision"] = revision.Revision.Value,
        ["description"] = revision.Description,
        ["effectivity"] = new JsonObject { ["variants"] = Texts(revision.Effectivity.Variants.Select(v => v.Value)) },
        ["steps"] = new JsonArray([.. revision.Steps.Select(s => new JsonObject
        {
            ["code"] = s.Code.Value,
            ["name"] = s.Name,
            ["prerequisites"] = Texts(s.Prerequisites.Select(p => p.Value)),
            ["stations"] = Texts(s.Stations.Select(p => p.Value)),
            ["characteristics"] = new JsonArray([.. s.Characteristics.Select(c => With(
                new() { ["code"] = c.Code.Value, ["name"] = c.Name }, ("unit", c.Unit), ("lower", Limit(c.Lower)), ("upper", Limit(c.Upper))))]),
            ["materials"] = new JsonArray([.. s.Materials.Select(m => new JsonObject
            {
                ["code"] = m.Code.Value, ["item"] = m.Item.Value, ["alternatives"] = Texts(m.Alternatives.Select(a => a.Value)), ["tracing"] = "container",
            })]),
            ["components"] = new JsonArray([.. s.Components.Select(c => new JsonObject { ["position"] = c.Position.Value, ["item"] = c.Item.Value })]),
            ["tools"] = new JsonArray([.. s.Tools.Select(t => new JsonObject { ["code"] = t.Code.Value, ["toolClass"] = t.ToolClass.Value })]),
        })]),
        ["intervals"] = new JsonArray([.. revision.Intervals.Select(i => new JsonObject
        {
            ["code"] = i.Code.Value,
            ["name"] = i.Name,
            ["from"] = new JsonObject { ["step"] = i.From.Step.Value, ["kind"] = "completed" },
            ["to"] = new JsonObject { ["step"] = i.To.Step.Value, ["kind"] = "started" },
            ["minimum"] = System.Xml.XmlConvert.ToString(i.Minimum!.Value),
        })]),
    };

    private static JsonObject? Limit(Limit? limit) => limit is null ? null : new() { ["constant"] = limit.Constant };

    private static JsonObject With(JsonObject body, params (string Name, JsonNode? Value)[] members)
    {
        foreach (var (name, value) in members)
        {
            Put(body, name, value);
        }

        return body;
    }

    private static void Put(JsonObject body, string name, JsonNode? value)
    {
        if (value is not null)
        {
            body[name] = value;
        }
    }

    private static JsonObject Unit(UnitKey unit) => new() { ["unit"] = Key(unit) };

    private static JsonObject Key(UnitKey unit) => new() { ["item"] = unit.Item.Value, ["serial"] = unit.Serial.Value };

    private static JsonObject OfLot(LotKey lot) => new() { ["lot"] = Key(lot) };

    private static JsonObject Key(LotKey lot) => new() { ["item"] = lot.Item.Value, ["lot"] = lot.Lot.Value };

    private static JsonNode Source(LotSource source) => With(OfLot(source.Lot), ("container", source.Container?.Value));

    private static JsonNode Quantity(EnteredQuantity quantity) => new JsonObject { ["value"] = quantity.Value, ["unit"] = quantity.Unit };

    private static JsonArray Texts(IEnumerable<string> texts) => new([.. texts.Select(t => (JsonNode)t)]);

    private static string Time(DateTimeOffset at) => at.ToString("yyyy-MM-dd'T'HH:mm:ss.fffzzz", System.Globalization.CultureInfo.InvariantCulture);
}
