using System.Globalization;
using System.Text.Json.Nodes;
using Traceability.Acceptance.Robustness;

namespace Traceability.Acceptance.Corrections;

/// <summary>Another content for a fact, by chance: one that a person might mean who corrects it.</summary>
internal sealed class Changes(Dice dice, LampWorks works)
{
    private const string Time = "yyyy-MM-dd'T'HH:mm:ss.fffzzz";

    /// <summary>The content of a fact, as a replacement needs it, with something in it changed.</summary>
    public string Of(Sent fact)
    {
        var body = JsonNode.Parse(fact.Json)!.AsObject();
        body.Remove("factId");
        var isMoved = dice.Chance(35);
        if (isMoved)
        {
            Move(body, fact.Type == "temperature-recorded" ? dice.Int(0, 30) : dice.Int(-30, 30));
        }

        if (!isMoved || dice.Chance(50))
        {
            Change(fact.Type, body);
        }

        return body.ToJsonString();
    }

    // The clock was misread: all times of the record are off by as much. What was read off another clock stays.
    private static void Move(JsonObject body, int minutes)
    {
        body["occurredAt"] = Moved(body["occurredAt"]!, minutes);
        if (body["startedAt"] is { } started)
        {
            body["startedAt"] = Moved(started, minutes);
        }
    }

    private static string Moved(JsonNode at, int minutes) =>
        DateTimeOffset.ParseExact(at.GetValue<string>(), Time, CultureInfo.InvariantCulture).AddMinutes(minutes).ToString(Time, CultureInfo.InvariantCulture);

    private void Change(string type, JsonObject body)
    {
        switch (type)
        {
            case "step-completed":
                ChangeStep(body);
                break;
            case "unit-opened" when body.ContainsKey("variant"):
                body["variant"] = dice.Pick("P", "C");
                break;
            case "component-installed" or "component-removed":
                body["component"] = Unit("HEAD");
                break;
            case "unit-moved-to-revision":
                body["revision"] = dice.Pick("A", "B");
                body["carriesOver"] = dice.Pick("[]", "[\"WIRE\"]", "[\"WIRE\",\"GLUE\"]") is var steps ? JsonNode.Parse(steps) : null;
                break;
            case "unit-shipped":
                body["consignee"] = dice.Pick("Fell End Supplies", "Other End Supplies");
                break;
            case "step-started" or "unit-released" or "unit-held" or "unit-hold-lifted" or "unit-scrapped" or "unit-returned":
                body["station"] = dice.Pick("ST-1", "ST-2", "DESK");
                break;
            case "nonconformance-reported":
                body["defect"] = dice.Pick("CHIP", "SCRATCH", "DENT");
                break;
            case "nonconformance-taken-up":
                body["note"] = "Seen";
                break;
            case "nonconformance-disposed":
                ChangeDisposition(body);
                break;
            default:
                ChangeDefinition(type, body);
                break;
        }
    }

    private void ChangeDefinition(string type, JsonObject body)
    {
        switch (type)
        {
            case "site-defined":
                body["timeZone"] = dice.Pick("Europe/Lisbon", "Pacific/Auckland", "America/Lima");
                break;
            case "station-defined":
                body["site"] = dice.Pick("WORKS", "DEPOT");
                break;
            case "item-defined":
                ChangeItem(body);
                break;
            case "defect-code-defined":
                body["description"] = "Damaged";
                break;
            case "routing-drafted":
                body["revision"]!["description"] = "Anew";
                break;
            case "routing-released":
                body["releasedBy"] = dice.Pick("P-9", "P-7");
                break;
            case "person-defined":
                body["displayName"] = "Another name";
                break;
            case "qualification-granted":
                body["qualification"] = dice.Pick("BONDING", "BONDING", "DISPOSITION", "WELDING");
                body["validUntil"] = works.Time(dice.Int(-900, 1_500));
                break;
            case "qualification-withdrawn":
                body["qualification"] = dice.Pick("BONDING", "WELDING");
                break;
            case "replacement-declared":
                body["revisions"] = JsonNode.Parse(dice.Pick("[]", "[\"A\"]", "[\"A\",\"B\"]"));
                body["validFrom"] = works.Time(dice.Int(-900, 1_000));
                break;
            case "training-completed":
                body["grants"] = new JsonArray(dice.Pick("BONDING", "WELDING"));
                body["validUntil"] = works.Time(dice.Int(0, 1_500));
                break;
            case "temperature-recorded":
                foreach (var reading in body["readings"]!.AsArray())
                {
                    reading!["temperature"]!["value"] = dice.Int(5, 30);
                }

                break;
            default:
                ChangeToolOrLot(type, body);
                break;
        }
    }

    private void ChangeItem(JsonObject body)
    {
        switch (body["item"]!.GetValue<string>())
        {
            case "ADH":
                body["lifeAfterOpening"] = dice.Pick("PT5H", "PT10H", "PT20H");
                body["cure"]!["rows"]![0]!["full"] = dice.Pick("PT12M", "PT20M", "PT40M");
                break;
            case "GR" or "ADX":
                body["needsInspection"] = dice.Chance(50);
                break;
            default:
                body["description"] = "Described anew";
                break;
        }
    }

    private void ChangeToolOrLot(string type, JsonObject body)
    {
        switch (type)
        {
            case "tool-defined":
                body["toolClass"] = dice.Pick("SCREWDRIVER", "SCREWDRIVER", "PRESS");
                body["calibrationInterval"] = dice.Pick("P1D", "P30D");
                break;
            case "tool-calibrated":
                body["foundGood"] = dice.Chance(50);
                body["leftGood"] = dice.Chance(70);
                body["validUntil"] = works.Time(dice.Int(0, 1_500));
                break;
            case "tool-setting-verified":
                body["torque"]!["value"] = dice.Pick(1.2m, 1.05m, 1.31m);
                break;
            case "tool-checked" or "tool-studied":
                body["readings"]![0]!["value"] = dice.Pick(1.2m, 1.05m, 1.35m);
                break;
            case "lot-received":
                body["isReleased"] = dice.Chance(50);
                body["expiresAt"] = works.Time(dice.Int(0, 1_500));
                break;
            case "lot-inspected":
                body["accepted"] = dice.Chance(50);
                break;
            case "lot-split":
                body["source"]!["lot"]!["lot"] = dice.Pick("L1", "L2", "L4");
                break;
            case "lot-merged":
                body["sources"]![0]!["lot"]!["lot"] = dice.Pick("L1", "L3");
                break;
            case "lot-recertified" or "lot-expiry-set":
                body["expiresAt"] = works.Time(dice.Int(0, 1_500));
                break;
            case "lot-moved":
                body["stations"] = new JsonArray(dice.Pick("ST-1", "ST-2"));
                break;
            case "container-opened" or "container-emptied":
                body["container"] = dice.Pick("T1", "T2", "T3", "T9");
                break;
            case "stock-counted":
                body["quantity"]!["value"] = dice.Int(0, 500);
                break;
            case "lot-quarantined":
                body["reason"] = "Another doubt";
                break;
            default:
                Move(body, dice.Int(-30, 30));
                break;
        }
    }

    private void ChangeStep(JsonObject body)
    {
        switch (dice.Int(0, 9))
        {
            case 0:
                body["person"] = dice.Pick("P-1", "P-2", "P-3");
                body.Remove("supervisor");
                break;
            case 1:
                body["station"] = dice.Pick("ST-1", "ST-2", "DESK");
                break;
            case 2:
                body["isRework"] = dice.Chance(50);
                break;
            case 3:
                body["defects"] = new JsonArray(new JsonObject { ["defect"] = dice.Pick("CHIP", "SCRATCH", "DENT"), ["count"] = dice.Int(1, 3) });
                break;
            case 4:
                body.Remove("defects");
                body["startedAt"] = Moved(body["occurredAt"]!, -dice.Int(0, 5));
                break;
            case 5 when body["person"]!.GetValue<string>() != "P-2":
                body["supervisor"] = "P-2";
                break;
            default:
                ChangeContent(body);
                break;
        }
    }

    private void ChangeContent(JsonObject body)
    {
        if (body["measurements"] is JsonArray { Count: > 0 } measured)
        {
            measured[0]!["value"] = dice.Pick(0.5m, 1m, 2.25m, 3m, 3.1m, 9.5m, 19m, 25m);
        }
        else if (body["checks"] is JsonArray { Count: > 0 } checks)
        {
            checks[0]!["passed"] = dice.Chance(50);
        }
        else if (body["materials"] is JsonArray materials)
        {
            ChangeMaterial(materials);
        }
        else if (body["tools"] is JsonArray { Count: > 0 } tools)
        {
            tools[0]!["tool"] = dice.Pick("SD-1", "SD-2", "SD-9");
            tools[0]!["setting"] = dice.Pick("5", "3");
        }
        else if (body["components"] is JsonArray { Count: > 0 } components)
        {
            components[0]!["component"] = Unit(components[0]!["component"]!["item"]!.GetValue<string>());
        }
        else
        {
            Move(body, dice.Int(-30, 30));
        }
    }

    private void ChangeMaterial(JsonArray materials)
    {
        var number = dice.Int(1, 5);
        if (materials.Count > 0)
        {
            materials.RemoveAt(0);
        }

        if (dice.Chance(85))
        {
            materials.Insert(0, dice.Chance(20)
                ? JsonNode.Parse("""{"item":"ADX","lots":["X1"]}""")
                : JsonNode.Parse($$"""{"item":"ADH","lots":["L{{number}}"],"container":"T{{number}}","quantity":{"value":{{dice.Pick("0.4", "0.51")}},"unit":"g"},"requirement":"GLUE"}"""));
        }
    }

    private void ChangeDisposition(JsonObject body)
    {
        body.Remove("reopens");
        body.Remove("concession");
        body["disposition"] = dice.Pick("rework", "use-as-is", "scrap", "return-to-supplier");
        switch (body["disposition"]!.GetValue<string>())
        {
            case "rework":
                body["reopens"] = new JsonArray(dice.Pick("TEST", "GLUE"));
                break;
            case "use-as-is":
                body["concession"] = JsonNode.Parse($$"""{"number":"C-2","countMax":{{dice.Int(1, 5)}}}""");
                break;
        }
    }

    private JsonObject Unit(string item) => new() { ["item"] = item, ["serial"] = dice.Int(1, 12).ToString(CultureInfo.InvariantCulture) };
}
