using Traceability.Acceptance.Robustness;

namespace Traceability.Acceptance.Corrections;

/// <summary>Two dozen spot lamps with their heads and cells, with every kind of fact: the same for the same seed. Listed as they happened.</summary>
internal sealed class SpotHistory
{
    private readonly Dice dice;
    private readonly LampWorks works;
    private readonly List<(double At, Sent Fact)> facts = [];

    private SpotHistory(ulong seed, LampWorks works)
    {
        dice = new(seed * 7919);
        this.works = works;
    }

    /// <summary>The history; the definitions are part of it.</summary>
    public static List<Sent> Build(ulong seed, LampWorks works, int lamps)
    {
        var history = new SpotHistory(seed, works);
        history.AddReadings();
        for (var lamp = 1; lamp <= lamps; lamp++)
        {
            history.AddCell(lamp, lamp * 50);
            history.AddHead(lamp, (lamp * 50) + 5);
            history.AddLamp(lamp, (lamp * 50) + 60);
        }

        // A sort that keeps what was told first of the same moment.
        return [.. SpotWorks.Definitions(works), .. history.facts.OrderBy(f => f.At).Select(f => f.Fact)];
    }

    /// <summary>A lamp without any fault, with head and cell of the same serial, ready to be released.</summary>
    public static List<Sent> Clean(LampWorks works, int serial, double at)
    {
        var (cell, head, lamp) = (LampWorks.Unit("CELL", serial), LampWorks.Unit("HEAD", serial), LampWorks.Unit("SPOT", serial));
        const string Glue = """ "materials":[{"item":"ADH","lots":["L1"],"container":"T1","quantity":{"value":0.4,"unit":"g"},"requirement":"GLUE"}""";
        return
        [
            works.Fact("unit-opened", at, cell),
            Done(cell, "WELD", at + 1, """ "measurements":[{"characteristic":"PULL","value":25,"unit":"N"}]"""),
            works.Fact("unit-opened", at, head),
            Done(head, "BOND", at + 2, Glue + """],"measurements":[{"characteristic":"RIM","value":2,"unit":"mm"}]"""),
            Done(head, "FIT", at + 3, $$$""" "components":[{"position":"CELL","component":{"item":"CELL","serial":"{{{serial}}}"}}]"""),
            Done(head, "TRY", at + 20, """ "checks":[{"characteristic":"OK","passed":true}]"""),
            works.Fact("unit-released", at + 21, TimeSpan.Zero, LampWorks.Desk, "P-9", head),
            works.Fact("unit-opened", at, lamp + ""","variant":"P" """),
            Done(lamp, "WIRE", at + 22, """ "checks":[{"characteristic":"OK","passed":true}],"measurements":[{"characteristic":"DEPTH","value":5.0,"unit":"mm"}]"""),
            Done(lamp, "GLUE", at + 24, Glue + """,{"item":"GR","lots":["G1"]}]"""),
            Done(lamp, "MARRY", at + 26, $$$""" "components":[{"position":"HEAD","component":{"item":"HEAD","serial":"{{{serial}}}"}}]"""),
            Done(lamp, "SCREW", at + 28, """ "tools":[{"tool":"SD-2","setting":"5"}]"""),
            Done(lamp, "CLOSE", at + 100, $$""" "startedAt":"{{works.Time(at + 99)}}" """),
            Done(lamp, "TEST", at + 110, """ "checks":[{"characteristic":"OK","passed":true}],"measurements":[{"characteristic":"GAP","value":1.0,"unit":"mm"}]"""),
        ];

        Sent Done(string unit, string step, double when, string members) => works.Fact("step-completed", when, $"{unit},\"step\":\"{step}\",{members}");
    }

    // Every ten minutes at both benches, with a gap now and then. The works' days end at 240, 1,680, ... minutes in UTC.
    private void AddReadings()
    {
        foreach (var place in new[] { "ST-1", "ST-2" })
        {
            for (var at = 1; at < 1_500; at += 40)
            {
                var readings = Enumerable.Range(0, 4).Select(i => $$"""{"at":"{{works.Time(at + (i * 9))}}","temperature":{"value":{{dice.Int(place == "ST-1" ? 19 : 12, 27)}},"unit":"Cel"} }""");
                if (at / 240 == (at + 27) / 240 && dice.Chance(90))
                {
                    Add(at + 30, works.Define("temperature-recorded", at + 30, $"\"place\":\"{place}\",\"readings\":[{string.Join(',', readings)}]"));
                }
            }
        }
    }

    private void AddCell(int serial, double at)
    {
        var unit = LampWorks.Unit("CELL", serial);
        Add(at, works.Fact("unit-opened", at, unit));
        Step(unit, "WELD", at + 2, $$""" "measurements":[{"characteristic":"PULL","value":{{dice.Pick("19", "25", "30")}},"unit":"N"}]""");
    }

    private void AddHead(int serial, double at)
    {
        var unit = LampWorks.Unit("HEAD", serial);
        Add(at, works.Fact("unit-opened", at, unit));
        Step(unit, "BOND", at + 3, Material(withContainer: false, "GLUE"), $$""" "measurements":[{"characteristic":"RIM","value":{{dice.Pick("1.0", "2.25", "3", "3.1")}},"unit":"mm"}]""");
        Step(unit, "FIT", at + 6, $$$""" "components":[{"position":"CELL","component":{"item":"CELL","serial":"{{{(dice.Chance(15) ? serial + 1 : serial)}}}"}}]""");
        Step(unit, "TRY", at + 3 + dice.Pick(9, 10, 11, 30), """ "checks":[{"characteristic":"OK","passed":true}]""");
        if (dice.Chance(85))
        {
            Add(at + 45, Decide("unit-released", at + dice.Int(45, 100), unit));
        }

        if (dice.Chance(25))
        {
            Add(at + 50, Decide("unit-held", at + 50, unit + ""","reason":"Doubt" """));
            Add(at + 70, Decide("unit-hold-lifted", at + dice.Int(52, 90), unit + ""","reason":"Looked at" """));
        }
    }

    private void AddLamp(int serial, double at)
    {
        var unit = LampWorks.Unit("SPOT", serial);
        Add(at, works.Fact("unit-opened", at, unit + $$""","variant":"{{dice.Pick("P", "C")}}" """));
        Add(at + 1, works.Fact("step-started", at + 1, unit + ""","step":"WIRE" """));
        Step(unit, "WIRE", at + 2, $$""" "checks":[{"characteristic":"OK","passed":{{dice.Pick("true", "true", "true", "false")}}}],"measurements":[{"characteristic":"DEPTH","value":{{dice.Pick("5.00", "2.5", "9.5", "2.49")}},"unit":"mm"}]""");
        Step(unit, "GLUE", at + 5, Material(dice.Chance(80), "GLUE", GreaseToo: true), dice.Chance(25) ? """ "supervisor":"P-2" """ : """ "note":"Clean" """);
        var close = at + 5 + dice.Pick(8, 9, 12, 20, 25);
        Add(at, works.Fact("unit-opened", at, LampWorks.Unit("HEADN", serial)));
        Add(at + 1, Decide("unit-released", at + 1, LampWorks.Unit("HEADN", serial)));
        Step(unit, "MARRY", at + 7, $$$""" "components":[{"position":"HEAD","component":{"item":"{{{dice.Pick("HEAD", "HEAD", "HEADN")}}}","serial":"{{{(dice.Chance(20) && serial > 1 ? serial - 1 : serial)}}}"}}]""");
        Step(unit, "SCREW", at + 8, $$""" "tools":[{"tool":"{{dice.Pick("SD-1", "SD-1", "SD-2")}}","setting":"{{dice.Pick("5", "5", "5", "3")}}"}]""");
        Step(unit, "CLOSE", close + 1, $$""" "startedAt":"{{works.Time(close)}}" """);
        Step(unit, "TEST", close + dice.Pick(2, 3, 6), $$""" "checks":[{"characteristic":"OK","passed":{{dice.Pick("true", "true", "false")}}}],"measurements":[{"characteristic":"GAP","value":{{dice.Pick("0.5", "1.25", "2.0")}},"unit":"mm"}]""");
        if (dice.Chance(30))
        {
            Swap(unit, serial, close + 10);
        }

        if (dice.Chance(30))
        {
            Add(close + 12, Decide("unit-moved-to-revision", close + 12, unit + ""","revision":"B","carriesOver":["WIRE"],"reason":"New head","authorisedBy":"P-9" """));
        }

        if (dice.Chance(40))
        {
            Report(unit, close + 15);
        }

        End(unit, close + dice.Int(20, 100));
    }

    private void Swap(string unit, int head, double at)
    {
        if (dice.Chance(70))
        {
            Add(at, works.Fact("component-removed", at, unit + $$""","position":"HEAD","component":{"item":"HEAD","serial":"{{head}}"},"reason":"Flickers" """));
        }

        Add(at + 1, works.Fact("component-installed", at + 1, unit + $$""","position":"HEAD","component":{"item":"HEAD","serial":"{{head + dice.Int(1, 2)}}"},"step":"MARRY" """));
    }

    private void Report(string unit, double at)
    {
        var report = works.Fact("nonconformance-reported", at, unit + $$""","defect":"{{dice.Pick("CHIP", "SCRATCH", "DENT")}}","description":"Seen at the edge","step":"TEST" """);
        Add(at, report);
        if (dice.Chance(70))
        {
            Add(at + 1, Decide("nonconformance-taken-up", at + 1, unit + $$""","nonconformance":"{{report.Id}}" """));
            var disposition = dice.Pick(
                """ "disposition":"rework","reopens":["TEST"]""",
                $$""" "disposition":"use-as-is","concession":{"number":"C-1","countMax":5,"until":"{{works.Time(90_000)}}"}""",
                """ "disposition":"scrap" """);
            Add(at + 2, Decide("nonconformance-disposed", at + 2, unit + $$""","nonconformance":"{{report.Id}}","reason":"Looked at",{{disposition}}"""));
        }
    }

    private void End(string unit, double at)
    {
        if (dice.Chance(10))
        {
            Add(at, Decide("unit-scrapped", at, unit + ""","reason":"Cracked" """));
            return;
        }

        Add(at, Decide("unit-released", at, unit));
        if (dice.Chance(60))
        {
            Add(at + 20, Decide("unit-shipped", at + 20, unit + ""","consignee":"Fell End Supplies","orderReference":"O-7" """));
            if (dice.Chance(40))
            {
                Add(at + 90, Decide("unit-returned", at + 90, unit + ""","reason":"Dim" """));
            }
        }
    }

    private void Step(string unit, string step, double at, params string[] members)
    {
        var content = string.Join(",", members.Prepend($"{unit},\"step\":\"{step}\""));
        var person = dice.Pick("P-1", "P-1", "P-2", "P-3");
        var station = dice.Pick("ST-1", "ST-1", "ST-2");
        Add(at, works.Fact("step-completed", at, TimeSpan.Zero, station, person, content + (dice.Chance(12) ? $$""","defects":[{"defect":"{{dice.Pick("CHIP", "SCRATCH", "DENT")}}","count":1}]""" : string.Empty)));
        if (dice.Chance(8))
        {
            Add(at + 2, works.Fact("step-completed", at + 2, TimeSpan.Zero, station, person, content + $",\"isRework\":{dice.Pick("true", "false")}"));
        }
    }

    private string Material(bool withContainer, string requirement, bool GreaseToo = false)
    {
        var number = dice.Int(1, 5);
        var glue = dice.Int(0, 11) switch
        {
            0 => string.Empty,
            1 => """{"item":"ADH","lots":["L1","L2"]}""",
            2 => """{"item":"ADX","lots":["X1"]}""",
            3 => """{"item":"NEW","lots":["N1"]}""",
            _ => $$$"""{"item":"ADH","lots":["L{{{number}}}"]{{{(withContainer ? $",\"container\":\"T{number}\"" : string.Empty)}}},"quantity":{"value":{{{dice.Pick("0.4", "0.51")}}},"unit":"g"},"requirement":"{{{requirement}}}"}""",
        };
        var grease = GreaseToo && dice.Chance(90) ? $$"""{"item":"GR","lots":["{{dice.Pick("G1", "G1", "G2")}}"]}""" : string.Empty;
        return $"\"materials\":[{string.Join(',', new[] { glue, grease }.Where(m => m.Length > 0))}]";
    }

    private Sent Decide(string type, double at, string members) => works.Fact(type, at, TimeSpan.Zero, LampWorks.Desk, "P-9", members);

    private void Add(double at, Sent fact) => facts.Add((at, fact));
}
