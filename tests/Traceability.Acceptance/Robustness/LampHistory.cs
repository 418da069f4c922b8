namespace Traceability.Acceptance.Robustness;

/// <summary>A few dozen lamps and their heads, with everything that goes wrong in a works: the same facts for the same seed.</summary>
/// <remarks>Times are whole minutes, so that ties and limits met exactly are common. Facts are listed as they happened.</remarks>
internal sealed class LampHistory
{
    private static readonly TimeSpan[] Errors = [TimeSpan.FromSeconds(30), TimeSpan.FromMinutes(7), TimeSpan.FromMinutes(-7), TimeSpan.FromHours(-26)];

    private readonly Dice dice;
    private readonly LampWorks works;
    private readonly List<(double At, Sent Fact)> facts = [];

    private LampHistory(ulong seed, DateTimeOffset start)
    {
        dice = new(seed * 7919);
        works = new(seed, start);
    }

    /// <summary>The history; the definitions are part of it.</summary>
    public static List<Sent> Build(ulong seed, DateTimeOffset start, int lamps)
    {
        var history = new LampHistory(seed, start);
        history.facts.AddRange(history.works.Definitions().Select(d => (-1000.0, d)));
        history.AddLate();
        for (var head = 1; head <= lamps + 3; head++)
        {
            history.AddHead(head, head * 9);
        }

        for (var lamp = 1; lamp <= lamps; lamp++)
        {
            // Serials on both sides of the change of revision.
            history.AddLamp(lamp + 12, lamp, (lamp * 60) + 30);
        }

        return [.. history.facts.OrderBy(f => f.At).Select(f => f.Fact)];
    }

    // Defined, quarantined, found out and moved after the work that it bears on.
    private void AddLate()
    {
        Add(100, works.Define("lot-received", -700, $$""" "lot":{"item":"ADH","lot":"L2"},"isReleased":false,"expiresAt":"{{works.Time(1500)}}" """));
        Add(400, works.Define("lot-released", -600, """ "lot":{"item":"ADH","lot":"L2"} """));
        Add(410, works.Fact("container-opened", 300, """ "lot":{"item":"ADH","lot":"L2"},"container":"T2" """));
        Add(900, works.Define("lot-quarantined", 700, """ "lot":{"item":"ADH","lot":"L1"},"reason":"Doubt" """));
        Add(950, works.Define("lot-expiry-set", 900, $$""" "lot":{"item":"ADH","lot":"L2"},"expiresAt":"{{works.Time(1200)}}","reason":"New data" """));
        Add(1100, works.Define("tool-calibrated", 1000, """ "tool":"SD-1","foundGood":false,"leftGood":true,"certificate":"C-2" """));
        var check = works.Define("tool-checked", 750, """ "tool":"SD-1","setting":"5","readings":[{"value":1.21,"unit":"N.m"}],"lower":{"value":1.1,"unit":"N.m"},"upper":{"value":1.3,"unit":"N.m"}""");
        Add(760, check);
        Add(1110, works.Define("tool-checked", 1050, """ "tool":"SD-1","setting":"5","readings":[{"value":1.35,"unit":"N.m"}],"lower":{"value":1.1,"unit":"N.m"},"upper":{"value":1.3,"unit":"N.m"}"""));
        Add(1130, works.Define("tool-calibrated", 1180, $$""" "tool":"SD-1","foundGood":true,"leftGood":true,"validUntil":"{{works.Time(100_000)}}" """));
        Add(1140, works.Define("tool-withdrawn", 2_200, """ "tool":"SD-1","reason":"Dropped" """));
        Add(1700, Void(check.Id, 1700));
        Add(1200, works.Define("person-defined", -897, """ "subject":"P-2","displayName":"P-2" """));
        Add(1201, works.Define("qualification-granted", 500, """ "subject":"P-2","qualification":"BONDING" """));
        Add(1210, works.Define("qualification-withdrawn", 800, """ "subject":"P-1","qualification":"BONDING","reason":"Lapsed" """));
        Add(1300, works.Define("defect-code-defined", 1250, """ "defect":"SCRATCH","description":"Scratched" """));
        Add(1400, works.Define("item-defined", 1350, """ "item":"ADH","kind":"consumable","description":"Adhesive","lifeAfterOpening":"PT5H" """));
        Add(1500, works.Define("station-defined", 1450, """ "subject":"DESK","site":"DEPOT","description":"Desk, moved" """));
        var expiry = works.Define("lot-expiry-set", 1600, $$""" "lot":{"item":"ADH","lot":"L1"},"expiresAt":"{{works.Time(400)}}","reason":"Misprint" """);
        Add(1600, expiry);
        Add(1650, Void(expiry.Id, 1650));
    }

    private void AddHead(int serial, double at)
    {
        var unit = LampWorks.Unit("HEAD", serial);
        var error = Error();
        Add(at, works.Fact("unit-opened", at, unit));
        Step(unit, "BOND", at + 3, error, Glue("GLUE", true), $$""" "measurements":[{"characteristic":"RIM","value":{{dice.Pick("1.0", "2.25", "3", "3.1")}},"unit":"mm"}]""");
        Step(unit, "TRY", at + 3 + dice.Pick(9, 10, 11, 30), error, """ "checks":[{"characteristic":"OK","passed":true}]""");
        if (dice.Chance(80))
        {
            Add(at + 50, Decide("unit-released", at + dice.Int(45, 600), unit));
        }

        if (dice.Chance(10))
        {
            Add(at + 500, Decide("unit-held", at + 400, unit + ""","reason":"Doubt" """));
        }
    }

    private void AddLamp(int serial, int head, double at)
    {
        var unit = LampWorks.Unit("LAMP", serial);
        var error = Error();
        Add(at, works.Fact("unit-opened", at, unit + $$""","variant":"{{dice.Pick("P", "C")}}" """));
        Step(unit, "WIRE", at + 2, error, Wire());
        Step(unit, "GLUE", at + 5, error, Glue("GLUE", dice.Chance(70)));
        var marry = at + 5 + dice.Pick(4, 5, 6, 9, 10, 60, 61, 70);
        if (dice.Chance(90))
        {
            Step(unit, "MARRY", marry + 1, error, $$$""" "startedAt":"{{{works.Time(marry, error)}}}","components":[{"position":"HEAD","component":{"item":"HEAD","serial":"{{{(dice.Chance(15) ? head + 1 : head)}}}"}}]""");
        }

        Step(unit, "SCREW", marry + 2, error, $$""" "tools":[{"tool":"SD-1","setting":"{{dice.Pick("5", "5", "5", "3")}}"}]""");
        Step(unit, "CLOSE", marry + 4, error, $$""" "startedAt":"{{works.Time(marry + 3, error)}}" """);
        Step(unit, "TEST", marry + dice.Pick(4, 5, 6), error, $$""" "checks":[{"characteristic":"OK","passed":{{dice.Pick("true", "true", "false")}}}],"measurements":[{"characteristic":"GAP","value":{{dice.Pick("0.5", "1.25", "2.0")}},"unit":"mm"}]""");
        if (dice.Chance(25))
        {
            Swap(unit, head, marry + 10);
        }

        if (dice.Chance(20))
        {
            Add(marry + 12, Decide("unit-moved-to-revision", marry + 12, unit + ""","revision":"B","carriesOver":["WIRE"],"reason":"New head","authorisedBy":"P-9" """));
        }

        End(unit, marry + dice.Int(20, 900));
    }

    // A head goes from one lamp to another; the other may still name its own.
    private void Swap(string unit, int head, double at)
    {
        if (dice.Chance(70))
        {
            Add(at, works.Fact("component-removed", at, unit + $$""","position":"HEAD","component":{"item":"HEAD","serial":"{{head}}"},"reason":"Flickers" """));
        }

        Add(at + 1, works.Fact("component-installed", at + 1, unit + $$""","position":"HEAD","component":{"item":"HEAD","serial":"{{head + dice.Int(1, 3)}}"},"step":"MARRY" """));
    }

    private void End(string unit, double at)
    {
        if (dice.Chance(10))
        {
            Add(at, Decide("unit-scrapped", at, unit + ""","reason":"Cracked" """));
            return;
        }

        if (dice.Chance(70))
        {
            var released = Decide("unit-released", at, unit);
            Add(at, released);
            if (dice.Chance(15))
            {
                Add(at + 3, Void(released.Id, at + 3));
            }
        }

        if (dice.Chance(40))
        {
            Add(at + 20, Decide("unit-shipped", at + 20, unit + ""","consignee":"Fell End Supplies" """));
        }

        if (dice.Chance(10))
        {
            Add(at + 90, Decide("unit-returned", at + 90, unit + ""","reason":"Dim" """));
        }
    }

    // Steps are repeated, reworked, corrected and voided, and corrections voided in turn.
    private void Step(string unit, string step, double at, TimeSpan error, params string[] members)
    {
        var content = string.Join(",", members.Prepend($"{unit},\"step\":\"{step}\""));
        var person = dice.Pick("P-1", "P-1", "P-1", "P-2");
        var sent = works.Fact("step-completed", at, error, LampWorks.Bench, person, content + Defect());
        Add(at + (error == TimeSpan.Zero ? 0 : 1000), sent);
        if (dice.Chance(8))
        {
            Add(at, works.Fact("step-completed", at + 1, error, LampWorks.Bench, person, content + $",\"isRework\":{dice.Pick("true", "false")}"));
        }

        if (dice.Chance(12))
        {
            // A misread time, or a defect that was forgotten.
            var corrected = works.Content("step-completed", dice.Chance(50) ? at : at + dice.Int(0, 3), error, LampWorks.Bench, person, content + ""","defects":[{"defect":"CHIP","count":2}]""");
            var correction = Decide("record-corrected", at + dice.Int(5, 60), $$""" "record":"{{sent.Id}}","replacement":{ {{corrected}} },"reason":"Misread","authorisedBy":"P-9" """);
            Add(at + 60, correction);
            if (dice.Chance(40))
            {
                var undone = Void(correction.Id, at + 70);
                Add(at + 70, undone);
                if (dice.Chance(30))
                {
                    Add(at + 80, Void(undone.Id, at + 80));
                }
            }
        }

        if (dice.Chance(5))
        {
            Add(at + 90, Void(sent.Id, at + 90));
        }
    }

    private string Wire() =>
        $$""" "checks":[{"characteristic":"OK","passed":{{dice.Pick("true", "true", "true", "false")}}}]"""
        + (dice.Chance(90) ? $$""","measurements":[{"characteristic":"DEPTH","value":{{dice.Pick("5.00", "2.5", "9.5", "2.49", "10")}},"unit":"{{dice.Pick("mm", "mm", "cm")}}"}]""" : string.Empty);

    private string Glue(string requirement, bool withContainer)
    {
        var lot = dice.Pick("L1", "L1", "L2", "L9");
        return dice.Int(0, 9) switch
        {
            0 => """ "materials":[]""",
            1 => $$""" "materials":[{"item":"ADH","lots":["L1","L2"],"requirement":"{{requirement}}"}]""",
            2 => """ "materials":[{"item":"GR","lots":["G1"]}]""",
            _ => $$$""" "materials":[{"item":"ADH","lots":["{{{lot}}}"]{{{(withContainer ? $",\"container\":\"{(lot == "L2" ? "T2" : "T1")}\"" : string.Empty)}}},"quantity":{"value":{{{dice.Pick("0.4", "0.50", "0.51")}}},"unit":"g"}}]""",
        };
    }

    private string Defect() => dice.Chance(8) ? $$""","defects":[{"defect":"{{dice.Pick("CHIP", "SCRATCH")}}","count":1}]""" : string.Empty;

    private TimeSpan Error() => dice.Chance(15) ? dice.Pick(Errors) : TimeSpan.Zero;

    private Sent Decide(string type, double at, string members) => works.Fact(type, at, TimeSpan.Zero, LampWorks.Desk, "P-9", members);

    private Sent Void(Guid record, double at) => Decide("record-voided", at, $$""" "record":"{{record}}","reason":"Wrong unit","authorisedBy":"P-9" """);

    private void Add(double at, Sent fact) => facts.Add((at, fact));
}
