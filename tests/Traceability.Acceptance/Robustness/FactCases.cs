using System.Globalization;

namespace Traceability.Acceptance.Robustness;

/// <summary>Facts that are refused, each with the code and the places that the answer must name.</summary>
internal static class FactCases
{
    private const string Malformed = "fact-malformed";
    private const string Id = "0b7c1b1e-7d0f-4f1a-9a57-2d6c3c0e9a11";

    /// <summary>The cases: what, the body, the status, the code, the places.</summary>
    public static (string What, string Body, int Status, string Code, string[] Pointers)[] All(LampWorks works) =>
        [.. Forms(works), .. Numbers(works), .. Times(works), .. Unknown(works), .. Contradictions(works), .. Nonconformances(works), .. Containments(works)];

    // A whole, good record of lamp 1 to spoil.
    private static string Step(LampWorks works, string changes = "", string step = "\"WIRE\"", string value = "5", string unit = "\"mm\"", string at = "", string more = "") =>
        $$$"""{"factId":"{{{Id}}}","type":"step-completed","occurredAt":{{{(at.Length > 0 ? at : "\"" + works.Time(50) + "\"")}}},"station":"ST-1","person":"P-1",{{{LampWorks.Unit("LAMP", 1)}}},"step":{{{step}}},"measurements":[{"characteristic":"DEPTH","value":{{{value}}},"unit":{{{unit}}}}]{{{more}}}{{{changes}}}}""";

    private static (string, string, int, string, string[])[] Containments(LampWorks works)
    {
        const string lamp = "\"containment\":\"C-1\",\"units\":[{\"item\":\"LAMP\",\"serial\":\"1\"}],\"outcome\":";
        return
        [
            ("a follow-up of an unknown containment", works.Fact("follow-up-recorded", 50, lamp + "\"scrapped\"").Json, 404, "containment-unknown", ["/containment"]),
            ("a closing of an unknown containment", works.Fact("containment-closed", 50, "\"containment\":\"C-1\",\"conclusion\":\"c\"").Json, 404, "containment-unknown", ["/containment"]),
            ("an unknown outcome", works.Fact("follow-up-recorded", 50, lamp + "\"lost\"").Json, 400, Malformed, ["/outcome"]),
            ("an outcome without its note", works.Fact("follow-up-recorded", 50, lamp + "\"not-affected\"").Json, 400, Malformed, ["/note"]),
            ("a follow-up of nothing", works.Fact("follow-up-recorded", 50, "\"containment\":\"C-1\",\"units\":[],\"outcome\":\"scrapped\"").Json, 400, Malformed, ["/units"]),
            ("a follow-up by nobody", works.Define("follow-up-recorded", 50, lamp + "\"scrapped\"").Json, 400, Malformed, ["/person"]),
            ("a unit twice", works.Fact("follow-up-recorded", 50, "\"containment\":\"C-1\",\"units\":[{\"item\":\"LAMP\",\"serial\":\"1\"},{\"item\":\"LAMP\",\"serial\":\"1\"}],\"outcome\":\"scrapped\"").Json, 400, Malformed, ["/units/1"]),
            ("what only the service records", works.Fact("containment-members-found", 50, "\"containment\":\"C-1\"").Json, 400, Malformed, ["/type"]),
            ("a hold of a wrong name", works.Fact("unit-held", 50, LampWorks.Unit("LAMP", 1) + ",\"reason\":\"r\",\"hold\":\"C 1\"").Json, 400, Malformed, ["/hold"]),
        ];
    }

    private static (string, string, int, string, string[])[] Forms(LampWorks works) =>
    [
        ("no type", """{"factId":"0b7c1b1e-7d0f-4f1a-9a57-2d6c3c0e9a11"}""", 400, Malformed, ["/type", "/occurredAt"]),
        ("an unknown type", LampWorks.With(Step(works), "type", "step-complete"), 400, Malformed, ["/type"]),
        ("no id", LampWorks.With(Step(works), "factId", null), 400, Malformed, ["/factId"]),
        ("an id of zeros", LampWorks.With(Step(works), "factId", Guid.Empty.ToString()), 400, Malformed, ["/factId"]),
        ("no unit", LampWorks.With(Step(works), "unit", null), 400, Malformed, ["/unit"]),
        ("a text for a unit", LampWorks.With(Step(works), "unit", "LAMP/1"), 400, Malformed, ["/unit"]),
        ("no step", LampWorks.With(Step(works), "step", null), 400, Malformed, ["/step"]),
        ("a number for a step", Step(works, step: "5"), 400, Malformed, ["/step"]),
        ("a code too long", Step(works, step: $"\"{new string('S', 31)}\""), 400, Malformed, ["/step"]),
        ("a code with a space", Step(works, step: "\"WI RE\""), 400, Malformed, ["/step"]),
        ("half a surrogate pair", Step(works, step: "\"\\ud83d\""), 400, Malformed, ["/step"]),
        ("a control character", Step(works, more: ",\"note\":\"a\\u0000b\""), 400, Malformed, ["/note"]),
        ("a text too long", Step(works, more: $",\"note\":\"{new string('n', 2_001)}\""), 400, Malformed, ["/note"]),
        ("an object for an array", Step(works, more: ",\"checks\":{}"), 400, Malformed, ["/checks"]),
        ("an array too long", Step(works, more: $",\"checks\":[{string.Join(',', Enumerable.Repeat("{}", 501))}]"), 400, Malformed, ["/checks"]),
        ("a text for a flag", Step(works, more: ",\"checks\":[{\"characteristic\":\"OK\",\"passed\":\"yes\"}]"), 400, Malformed, ["/checks/0/passed"]),
        ("a count of nought", Step(works, more: ",\"defects\":[{\"defect\":\"CHIP\",\"count\":0}]"), 400, Malformed, ["/defects/0/count"]),
        ("a characteristic twice", Step(works, more: ",\"checks\":[{\"characteristic\":\"DEPTH\",\"passed\":true}]"), 400, Malformed, ["/checks/0/characteristic"]),
        ("an unknown member", Step(works, more: ",\"colour\":1"), 400, Malformed, ["/colour"]),
        ("an unknown member inside", Step(works, more: ",\"tools\":[{\"tool\":\"SD-1\",\"colour\":1}]"), 400, Malformed, ["/tools/0/colour"]),
        ("a member of the service's", Step(works, more: ",\"clock\":{}"), 400, Malformed, ["/clock"]),
        ("a member twice", Step(works, more: ",\"step\":\"WIRE\""), 400, Malformed, ["/step"]),
        ("a member twice inside", Step(works, more: ",\"tools\":[{\"tool\":\"SD-1\",\"tool\":\"SD-1\"}]"), 400, Malformed, ["/tools/0/tool"]),
        ("a unit inside itself", works.Fact("component-installed", 50, LampWorks.Unit("LAMP", 1) + ""","position":"HEAD","component":{"item":"LAMP","serial":"1"}""").Json, 400, Malformed, ["/component"]),
        ("a correction of a correction", works.Fact("record-corrected", 50, $$$""" "record":"{{{Id}}}","reason":"r","authorisedBy":"P-9","replacement":{"type":"record-voided"}""").Json, 400, Malformed, ["/replacement/type"]),
        ("a fault in a replacement", works.Fact("record-corrected", 50, $$$""" "record":"{{{Id}}}","reason":"r","authorisedBy":"P-9","replacement":{"type":"unit-released","occurredAt":"now"}""").Json, 400, Malformed, ["/replacement/occurredAt", "/replacement/unit"]),
        ("a circle of prerequisites", works.Define("routing-drafted", 50, """ "revision":{"item":"LAMP","revision":"Q","description":"d","steps":[{"code":"A","name":"a","prerequisites":["B"]},{"code":"B","name":"b","prerequisites":["A"]}]}""").Json, 400, Malformed, ["/revision/steps/0/prerequisites"]),
        ("a merge of nothing", works.Define("lot-merged", 50, """ "lot":{"item":"ADH","lot":"S9"},"sources":[] """).Json, 400, Malformed, ["/sources"]),
        ("a split without source", works.Define("lot-split", 50, """ "lot":{"item":"ADH","lot":"S9"} """).Json, 400, Malformed, ["/source"]),
        ("a mix of one part", works.Define("lot-mixed", 50, """ "lot":{"item":"ADH","lot":"S9"},"parts":[{"lot":{"item":"ADH","lot":"L1"}}] """).Json, 400, Malformed, ["/parts"]),
        ("a batch of nothing", works.Define("batch-formed", 50, """ "batch":{"item":"LAMP","batch":"B9"},"count":0 """).Json, 400, Malformed, ["/count"]),
        ("a batch without a count", works.Define("batch-formed", 50, """ "batch":{"item":"LAMP","batch":"B9"} """).Json, 400, Malformed, ["/count"]),
        ("a batch that is split off itself", works.Define("batch-split", 50, """ "batch":{"item":"LAMP","batch":"B9"},"source":"B9","count":1 """).Json, 400, Malformed, ["/source"]),
        ("a split without a count", works.Define("batch-split", 50, """ "batch":{"item":"LAMP","batch":"B9"},"source":"B1" """).Json, 400, Malformed, ["/count"]),
        ("an open time without a fixed one", works.Define("routing-drafted", 50, """ "revision":{"item":"LAMP","revision":"Q","description":"d","steps":[{"code":"A","name":"a","materials":[{"code":"GLUE","item":"ADH"}]},{"code":"B","name":"b"}],"intervals":[{"code":"OPEN","name":"o","from":{"step":"A","kind":"completed"},"to":{"step":"B","kind":"started"},"openTimeOf":"GLUE"}]}""").Json, 400, Malformed, ["/revision/intervals/0/maximum"]),
        ("an open time of nothing", works.Define("routing-drafted", 50, """ "revision":{"item":"LAMP","revision":"Q","description":"d","steps":[{"code":"A","name":"a","materials":[{"code":"GLUE","item":"ADH"}]},{"code":"B","name":"b"}],"intervals":[{"code":"OPEN","name":"o","from":{"step":"A","kind":"completed"},"to":{"step":"B","kind":"started"},"maximum":"PT10M","openTimeOf":"GREASE"}]}""").Json, 400, Malformed, ["/revision/intervals/0/openTimeOf"]),
        ("a batch's step that starts after its end", works.Define("batch-step-completed", 50, $$""" "batch":{"item":"LAMP","batch":"B1"},"step":"WIRE","startedAt":"{{works.Time(51)}}" """).Json, 400, Malformed, ["/startedAt"]),
        ("a component in a batch", works.Define("batch-step-completed", 50, """ "batch":{"item":"LAMP","batch":"B1"},"step":"WIRE","components":[] """).Json, 400, Malformed, ["/components"]),
        ("a mixture of one part", works.Define("item-defined", 50, """ "item":"X1","kind":"consumable","description":"d","mix":{"parts":[{"item":"ADH","amount":{"value":1,"unit":"g"}}],"tolerance":0.1}""").Json, 400, Malformed, ["/mix/parts"]),
        ("a tolerance of 200 %", works.Define("item-defined", 50, """ "item":"X1","kind":"consumable","description":"d","mix":{"parts":[{"item":"ADH","amount":{"value":1,"unit":"g"}},{"item":"GR","amount":{"value":1,"unit":"g"}}],"tolerance":2}""").Json, 400, Malformed, ["/mix/tolerance"]),
        ("a part twice", works.Define("item-defined", 50, """ "item":"X1","kind":"consumable","description":"d","mix":{"parts":[{"item":"ADH","amount":{"value":1,"unit":"g"}},{"item":"ADH","amount":{"value":1,"unit":"g"}}],"tolerance":0.1}""").Json, 400, Malformed, ["/mix/parts/1/item"]),
        ("a pot life by temperature alone", works.Define("item-defined", 50, """ "item":"X1","kind":"consumable","description":"d","potLifeByTemperature":{"rows":[{"temperature":{"value":20,"unit":"Cel"},"time":"PT1H"}],"readingGapMax":"PT30M"}""").Json, 400, Malformed, ["/potLife"]),
        ("a life that grows with heat", works.Define("item-defined", 50, """ "item":"X1","kind":"consumable","description":"d","potLife":"PT1H","potLifeByTemperature":{"rows":[{"temperature":{"value":20,"unit":"Cel"},"time":"PT1H"},{"temperature":{"value":30,"unit":"Cel"},"time":"PT2H"}],"readingGapMax":"PT30M"}""").Json, 400, Malformed, ["/potLifeByTemperature/rows/1"]),
        ("a life of two months", works.Define("item-defined", 50, """ "item":"X1","kind":"consumable","description":"d","lifeAfterOpening":"P60D","openedLifeByTemperature":{"rows":[{"temperature":{"value":20,"unit":"Cel"},"time":"P60D"}],"readingGapMax":"PT30M"}""").Json, 400, Malformed, ["/openedLifeByTemperature/rows/0/time"]),
        ("a loss without reason", works.Define("stock-counted", 50, """ "lot":{"item":"ADH","lot":"L1"},"quantity":{"value":1,"unit":"g"},"loss":{"value":1,"unit":"g"} """).Json, 400, Malformed, ["/reason"]),
        ("a negative count", works.Define("stock-counted", 50, """ "lot":{"item":"ADH","lot":"L1"},"quantity":{"value":-1,"unit":"g"} """).Json, 400, Malformed, ["/quantity/value"]),
        ("an inspection of nought pieces", works.Define("lot-inspected", 50, """ "lot":{"item":"ADH","lot":"L1"},"accepted":true,"sampleCount":0 """).Json, 400, Malformed, ["/sampleCount"]),
        ("a supervisor of himself", Step(works, more: ",\"supervisor\":\"P-1\""), 400, Malformed, ["/supervisor"]),
        ("a supervisor of himself from the start", works.Fact("step-started", 50, LampWorks.Unit("LAMP", 1) + ""","step":"GLUE","supervisor":"P-1" """).Json, 400, Malformed, ["/supervisor"]),
        ("a trainer of himself", works.Define("training-completed", 50, """ "subject":"P-1","topic":"BONDING","trainer":"P-1" """).Json, 400, Malformed, ["/trainer"]),
        ("no approvals", works.Define("item-defined", 50, """ "item":"X1","kind":"part","description":"d","approvalsNeeded":0""").Json, 400, Malformed, ["/approvalsNeeded"]),
        ("a version of nought", works.Fact("unit-moved-to-revision", 50, LampWorks.Unit("LAMP", 1) + ""","revision":"B","reason":"r","authorisedBy":"P-9","decidedAtVersion":0""").Json, 400, Malformed, ["/decidedAtVersion"]),
        ("supervision without a qualification", works.Define("routing-drafted", 50, """ "revision":{"item":"LAMP","revision":"Q","description":"d","steps":[{"code":"A","name":"a","allowsSupervised":true}]}""").Json, 400, Malformed, ["/revision/steps/0/allowsSupervised"]),
        ("a negative uncertainty", Step(works).Replace("\"unit\":\"mm\"}", "\"unit\":\"mm\",\"standardUncertainty\":-0.1}", StringComparison.Ordinal), 400, Malformed, ["/measurements/0/standardUncertainty"]),
        ("everything wrong", Step(works, step: "1", value: "\"NaN\"", unit: "\"smoot\"", at: "\"2026-03-01T08:00:00\"", more: ",\"isRework\":\"no\",\"x\":1"), 400, Malformed,
            ["/occurredAt", "/step", "/measurements/0/value", "/measurements/0/unit", "/isRework", "/x"]),
    ];

    private static IEnumerable<(string, string, int, string, string[])> Numbers(LampWorks works)
    {
        foreach (var literal in new[] { "NaN", "Infinity", "-Infinity", "+1", "01", ".5", "1.", "0x10", "1_000" })
        {
            yield return ($"{literal} for a value", Step(works, value: literal), 400, Malformed, [string.Empty]);
        }

        foreach (var wrong in new[] { "\"NaN\"", "\"Infinity\"", "\"5\"", "true", "[]", "{}", "1e999", "-1e999", "1e28", "1e-29", "12345678901234567890123456789" })
        {
            yield return ($"{wrong} for a value", Step(works, value: wrong), 400, Malformed, ["/measurements/0/value"]);
        }

        yield return ("no value", Step(works, value: "null"), 400, Malformed, ["/measurements/0/value"]);
        yield return ("an unknown unit of measure", Step(works, unit: "\"smoot\""), 400, Malformed, ["/measurements/0/unit"]);
        yield return ("no unit of measure", Step(works, unit: "null"), 400, Malformed, ["/measurements/0/unit"]);
        yield return ("a length in seconds", Step(works, unit: "\"s\""), 400, "unit-of-measure-wrong", ["/measurements/0/unit"]);
        yield return ("an amount in metres", Step(works, step: "\"GLUE\"", more: ",\"materials\":[{\"item\":\"ADH\",\"lots\":[\"L1\"],\"quantity\":{\"value\":1,\"unit\":\"m\"}}]"), 400, "unit-of-measure-wrong", ["/materials/0/quantity/unit"]);
        yield return ("a negative amount", Step(works, more: ",\"materials\":[{\"item\":\"ADH\",\"quantity\":{\"value\":-1,\"unit\":\"g\"}}]"), 400, Malformed, ["/materials/0/quantity/value"]);
        yield return ("a replacement with itself", works.Define("replacement-declared", 50, """ "item":"LAMP","replaced":"HEAD","with":"HEAD","reason":"r","authorisedBy":"P-9" """).Json, 400, Malformed, ["/with"]);
        yield return ("a check without a reading", works.Define("tool-checked", 50, """ "tool":"SD-1","readings":[]""").Json, 400, Malformed, ["/readings"]);
        yield return ("a check of readings that are not of a kind", works.Define("tool-checked", 50, """ "tool":"SD-1","readings":[{"value":1,"unit":"N.m"},{"value":1,"unit":"s"}]""").Json, 400, Malformed, ["/readings"]);
        yield return ("limits the wrong way round", works.Define("tool-checked", 50, """ "tool":"SD-1","readings":[{"value":1,"unit":"N.m"}],"lower":{"value":2,"unit":"N.m"},"upper":{"value":1,"unit":"N.m"}""").Json, 400, Malformed, ["/upper"]);
        yield return ("a limit of another kind", works.Define("tool-checked", 50, """ "tool":"SD-1","readings":[{"value":1,"unit":"N.m"}],"lower":{"value":2,"unit":"mm"}""").Json, 400, Malformed, ["/lower"]);
        yield return ("a negative uncertainty", works.Define("tool-setting-verified", 50, """ "tool":"SD-1","setting":"5","torque":{"value":1,"unit":"N.m"},"uncertainty":{"value":-1,"unit":"N.m"}""").Json, 400, Malformed, ["/uncertainty"]);
        yield return ("a study of one reading", works.Define("tool-studied", 50, """ "tool":"SD-1","setting":"5","joint":"HARD","readings":[{"value":1,"unit":"N.m"}]""").Json, 400, Malformed, ["/readings"]);
        yield return ("a calibration point in two kinds", works.Define("tool-calibrated", 50, """ "tool":"SD-1","foundGood":true,"leftGood":true,"points":[{"nominal":{"value":1,"unit":"N.m"},"asFound":{"value":1,"unit":"s"}}]""").Json, 400, Malformed, ["/points/0/asFound"]);
        yield return ("a torque in seconds", works.Define("tool-setting-verified", 50, """ "tool":"SD-1","setting":"5","torque":{"value":1,"unit":"s"}""").Json, 400, Malformed, ["/torque/unit"]);
    }

    private static IEnumerable<(string, string, int, string, string[])> Times(LampWorks works)
    {
        foreach (var wrong in new[] { "\"2026-03-01T08:00:00\"", "\"2026-03-01\"", "\"2026-03-01T08:00:00 Z\"", "\"2026-02-30T08:00:00Z\"", "\"2026-03-01T25:00:00Z\"", "\"now\"", "\"\"", "1772352000", "null", "\"1969-12-31T23:59:59Z\"", "\"2200-01-01T00:00:00Z\"", "\"0001-01-01T00:00:00+14:00\"" })
        {
            yield return ($"{wrong} for a time", Step(works, at: wrong), 400, Malformed, ["/occurredAt"]);
        }

        yield return ("a start without offset", Step(works, more: ",\"startedAt\":\"2026-03-01T08:00:00\""), 400, Malformed, ["/startedAt"]);
        yield return ("a start after the end", Step(works, more: $",\"startedAt\":\"{works.Time(51)}\""), 400, Malformed, ["/startedAt"]);
        yield return ("a mark outside the step", Step(works, more: $",\"marks\":[{{\"name\":\"IN\",\"at\":\"{works.Time(51)}\"}}]"), 400, Malformed, ["/marks/0/at"]);
        yield return ("a time to come", Step(works, at: "\"2199-01-01T00:00:00Z\""), 400, "occurred-in-future", ["/occurredAt"]);
        yield return ("a duration in words", works.Define("item-defined", 50, """ "item":"X1","kind":"part","description":"d","lifeAfterOpening":"ten days" """).Json, 400, Malformed, ["/lifeAfterOpening"]);
        yield return ("an unknown time zone", works.Define("site-defined", 50, """ "site":"X1","description":"d","timeZone":"Moon/Base" """).Json, 400, "time-zone-unknown", ["/timeZone"]);
    }

    private static IEnumerable<(string, string, int, string, string[])> Unknown(LampWorks works)
    {
        yield return ("an unknown unit", works.Fact("unit-held", 50, LampWorks.Unit("LAMP", 404) + ",\"reason\":\"r\"").Json, 404, "unit-unknown", ["/unit"]);
        yield return ("an unknown item", works.Fact("unit-opened", 50, LampWorks.Unit("NONE", 1)).Json, 404, "item-unknown", ["/unit/item"]);
        yield return ("an unknown variant", works.Fact("unit-opened", 50, LampWorks.Unit("LAMP", 404) + ",\"variant\":\"X\"").Json, 404, "variant-unknown", ["/variant"]);
        yield return ("an unknown station", LampWorks.With(Step(works), "station", "NONE"), 404, "station-unknown", ["/station"]);
        yield return ("an unknown record", works.Fact("record-voided", 50, $$""" "record":"{{Id}}","reason":"r","authorisedBy":"P-9" """).Json, 404, "record-unknown", ["/record"]);
        yield return ("an unknown lot", works.Define("lot-released", 50, """ "lot":{"item":"ADH","lot":"NONE"} """).Json, 404, "lot-unknown", ["/lot"]);
        yield return ("a lot of an unknown item", works.Define("lot-received", 50, """ "lot":{"item":"NONE","lot":"L1"},"isReleased":true """).Json, 404, "item-unknown", ["/lot/item"]);
        yield return ("a split off an unknown lot", works.Define("lot-split", 50, """ "lot":{"item":"ADH","lot":"S9"},"source":{"lot":{"item":"ADH","lot":"NONE"}} """).Json, 404, "lot-unknown", ["/source/lot"]);
        yield return ("a merge with an unknown lot", works.Define("lot-merged", 50, """ "lot":{"item":"ADH","lot":"S9"},"sources":[{"lot":{"item":"ADH","lot":"L1"}},{"lot":{"item":"ADH","lot":"NONE"}}] """).Json, 404, "lot-unknown", ["/sources/1/lot"]);
        yield return ("a mix with an unknown lot", works.Define("lot-mixed", 50, """ "lot":{"item":"PASTE","lot":"S9"},"parts":[{"lot":{"item":"ADH","lot":"L1"}},{"lot":{"item":"ADH","lot":"NONE"}}] """).Json, 404, "item-unknown", ["/lot/item"]);
        yield return ("a step of an unknown batch", works.Define("batch-step-started", 50, """ "batch":{"item":"LAMP","batch":"NONE"},"step":"WIRE" """).Json, 404, "batch-unknown", ["/batch"]);
        yield return ("a split of an unknown batch", works.Define("batch-split", 50, """ "batch":{"item":"LAMP","batch":"B9"},"source":"NONE","count":1 """).Json, 404, "batch-unknown", ["/source"]);
        yield return ("a batch of an unknown item", works.Define("batch-formed", 50, """ "batch":{"item":"NONE","batch":"B1"},"count":2 """).Json, 404, "item-unknown", ["/batch/item"]);
        yield return ("a batch of an unknown lot", works.Define("batch-formed", 50, """ "batch":{"item":"LAMP","batch":"B9"},"count":2,"lot":"NONE" """).Json, 404, "lot-unknown", ["/lot"]);
        yield return ("a unit of an unknown batch", works.Fact("unit-opened", 50, LampWorks.Unit("LAMP", 404) + ",\"batch\":\"NONE\"").Json, 404, "batch-unknown", ["/batch"]);
        yield return ("a count of an unknown lot", works.Define("stock-counted", 50, """ "lot":{"item":"ADH","lot":"NONE"},"quantity":{"value":1,"unit":"g"} """).Json, 404, "lot-unknown", ["/lot"]);
        yield return ("an unknown tool", works.Define("tool-calibrated", 50, """ "tool":"NONE","foundGood":true,"leftGood":true """).Json, 404, "tool-unknown", ["/tool"]);
        yield return ("a check of an unknown tool", works.Define("tool-checked", 50, """ "tool":"NONE","readings":[{"value":1,"unit":"N.m"}] """).Json, 404, "tool-unknown", ["/tool"]);
        yield return ("a withdrawal of an unknown tool", works.Define("tool-withdrawn", 50, """ "tool":"NONE","reason":"r" """).Json, 404, "tool-unknown", ["/tool"]);
        yield return ("an unknown person", works.Define("qualification-granted", 50, """ "subject":"NONE","qualification":"BONDING" """).Json, 404, "person-unknown", ["/subject"]);
        yield return ("an unknown site", works.Define("station-defined", 50, """ "subject":"X1","site":"NONE","description":"d" """).Json, 404, "site-unknown", ["/site"]);
        yield return ("an approval of an unknown draft", works.Define("routing-approved", 50, """ "item":"LAMP","revision":"Z","approvedBy":"P-9" """).Json, 404, "revision-unknown", ["/revision"]);
        yield return ("a replacement of unknown items", works.Define("replacement-declared", 50, """ "item":"LAMP","replaced":"NO-1","with":"NO-2","reason":"r","authorisedBy":"P-9" """).Json, 404, "item-unknown", ["/replaced", "/with"]);
        yield return ("a replacement in an unknown revision", works.Define("replacement-declared", 50, """ "item":"LAMP","replaced":"HEAD","with":"GR","revisions":["A","Z"],"reason":"r","authorisedBy":"P-9" """).Json, 404, "revision-unknown", ["/revisions/1"]);
        yield return ("a replacement decided by nobody", works.Define("replacement-declared", 50, """ "item":"LAMP","replaced":"HEAD","with":"GR","reason":"r","authorisedBy":"NONE" """).Json, 404, "person-unknown", ["/authorisedBy"]);
        yield return ("a training of nobody", works.Define("training-completed", 50, """ "subject":"NONE","topic":"BONDING" """).Json, 404, "person-unknown", ["/subject"]);
        yield return ("a training by nobody", works.Define("training-completed", 50, """ "subject":"P-1","topic":"BONDING","trainer":"NONE" """).Json, 404, "person-unknown", ["/trainer"]);
        yield return ("an unknown draft", works.Define("routing-released", 50, """ "item":"LAMP","revision":"Z" """).Json, 404, "revision-unknown", ["/revision"]);
        yield return ("unknown items in a routing", works.Define("routing-drafted", 50, """ "revision":{"item":"LAMP","revision":"Z","description":"d","steps":[{"code":"A","name":"a","materials":[{"code":"M","item":"NO-1","alternatives":["NO-2"]}]}]}""").Json, 404, "item-unknown", ["/revision/steps/0/materials/0/item", "/revision/steps/0/materials/0/alternatives/0"]);
    }

    private static IEnumerable<(string, string, int, string, string[])> Contradictions(LampWorks works)
    {
        var opening = works.Fact("unit-opened", 50, LampWorks.Unit("LAMP", 1));
        yield return ("a second opening", opening.Json, 409, "unit-already-open", ["/unit"]);
        yield return ("a second receipt", works.Define("lot-received", 50, """ "lot":{"item":"ADH","lot":"L1"},"isReleased":true """).Json, 409, "lot-already-received", ["/lot"]);
        yield return ("a split into a lot that is there", works.Define("lot-split", 50, """ "lot":{"item":"GR","lot":"G1"},"source":{"lot":{"item":"GR","lot":"G1"}} """).Json, 409, "lot-already-received", ["/lot"]);
        yield return ("a mix of what is not mixed", works.Define("lot-mixed", 50, """ "lot":{"item":"GR","lot":"S9"},"parts":[{"lot":{"item":"ADH","lot":"L1"}},{"lot":{"item":"GR","lot":"G1"}}] """).Json, 409, "mix-not-declared", ["/lot/item"]);
        yield return ("a split into a batch that is there", works.Define("batch-split", 50, """ "batch":{"item":"LAMP","batch":"B1"},"source":"B1X","count":1 """).Json, 409, "batch-already-formed", ["/batch"]);
        yield return ("a batch that was formed before", works.Define("batch-formed", 50, """ "batch":{"item":"LAMP","batch":"B1"},"count":2 """).Json, 409, "batch-already-formed", ["/batch"]);
        yield return ("a lot made of itself", works.Define("lot-merged", 50, """ "lot":{"item":"ADH","lot":"L1"},"sources":[{"lot":{"item":"ADH","lot":"L1"}}] """).Json, 409, "lot-of-itself", ["/sources/0/lot"]);
        yield return ("a lot made of another item", works.Define("lot-split", 50, """ "lot":{"item":"ADH","lot":"S9"},"source":{"lot":{"item":"GR","lot":"G1"}} """).Json, 409, "lot-of-other-item", ["/source/lot/item"]);
        yield return ("a re-certification that extends nothing", works.Define("lot-recertified", 50, $$""" "lot":{"item":"ADH","lot":"L1"},"expiresAt":"{{works.Time(60)}}","evidence":"Report 17","authorisedBy":"P-9" """).Json, 409, "expiry-not-extended", ["/expiresAt"]);
        yield return ("a draft of a released revision", works.Define("routing-drafted", 50, """ "revision":{"item":"LAMP","revision":"A","description":"d","steps":[{"code":"A","name":"a"}]}""").Json, 409, "revision-released", ["/revision/revision"]);
        yield return ("a tool put back that is in use", works.Define("tool-reinstated", 50, """ "tool":"SD-1","reason":"r" """).Json, 409, "tool-not-withdrawn", ["/tool"]);
        yield return ("an approval of a released revision", works.Define("routing-approved", 50, """ "item":"LAMP","revision":"A","approvedBy":"P-9" """).Json, 409, "revision-released", ["/revision"]);
        yield return ("a move decided of another version", works.Fact("unit-moved-to-revision", 50, LampWorks.Unit("LAMP", 1) + ""","revision":"B","reason":"r","authorisedBy":"P-9","decidedAtVersion":99""").Json, 409, "unit-changed", ["/decidedAtVersion"]);
        yield return ("a second release", works.Define("routing-released", 50, """ "item":"LAMP","revision":"A" """).Json, 409, "revision-released", ["/revision"]);
    }

    private static IEnumerable<(string, string, int, string, string[])> Nonconformances(LampWorks works)
    {
        var hash = new string('0', 64);
        string Report(string more) => works.Fact("nonconformance-reported", 50, LampWorks.Unit("LAMP", 1) + ",\"defect\":\"CHIP\",\"description\":\"d\"" + more).Json;
        string Dispose(string more, string id = Id) => works.Fact("nonconformance-disposed", 50, LampWorks.Unit("LAMP", 1) + $",\"nonconformance\":\"{id}\",\"reason\":\"r\"" + more).Json;
        yield return ("a report without words", LampWorks.With(Report(string.Empty), "description", " "), 400, Malformed, ["/description"]);
        yield return ("a name for a file", Report(",\"attachments\":[\"photo.png\"]"), 400, Malformed, ["/attachments/0"]);
        yield return ("too many files", Report($",\"attachments\":[{string.Join(',', Enumerable.Repeat($"\"{hash}\"", 21))}]"), 400, Malformed, ["/attachments"]);
        yield return ("a file that is not stored", Report($",\"attachments\":[\"{hash}\"]"), 404, "attachment-unknown", ["/attachments/0"]);
        yield return ("a word for a nonconformance", Dispose(",\"disposition\":\"scrap\"", "LEAK"), 400, Malformed, ["/nonconformance"]);
        yield return ("an unknown disposition", Dispose(",\"disposition\":\"sell\""), 400, Malformed, ["/disposition"]);
        yield return ("rework of nothing", Dispose(",\"disposition\":\"rework\""), 400, Malformed, ["/reopens"]);
        yield return ("rework of a step twice", Dispose(",\"disposition\":\"rework\",\"reopens\":[\"WIRE\",\"WIRE\"]"), 400, Malformed, ["/reopens/1"]);
        yield return ("scrap with steps and a concession", Dispose(",\"disposition\":\"scrap\",\"reopens\":[\"WIRE\"],\"concession\":{\"number\":\"C-1\",\"countMax\":1}"), 400, Malformed, ["/reopens", "/concession"]);
        yield return ("use-as-is without a concession", Dispose(",\"disposition\":\"use-as-is\""), 400, Malformed, ["/concession"]);
        yield return ("a concession without limits", Dispose(",\"disposition\":\"use-as-is\",\"concession\":{\"number\":\"C-1\"}"), 400, Malformed, ["/concession/until"]);
        yield return ("a concession for none", Dispose(",\"disposition\":\"use-as-is\",\"concession\":{\"number\":\"C-1\",\"countMax\":0}"), 400, Malformed, ["/concession/countMax"]);
        yield return ("a disposition by someone who is not qualified", Dispose(",\"disposition\":\"scrap\""), 403, "person-not-qualified", ["/person"]);
        yield return ("a disposition by nobody", LampWorks.With(Dispose(",\"disposition\":\"scrap\""), "person", null), 400, "person-missing", ["/person"]);
        yield return ("a nonconformance that is not there", works.Fact("nonconformance-taken-up", 50, LampWorks.Unit("LAMP", 1) + $",\"nonconformance\":\"{Id}\"").Json, 404, "nonconformance-unknown", ["/nonconformance"]);
    }

    /// <summary>The cases that name a fact which was recorded before.</summary>
    public static (string What, string Body, int Status, string Code, string[] Pointers)[] About(LampWorks works, IReadOnlyList<Sent> lamp)
    {
        string Correct(string replacement) => works.Fact("record-corrected", 60, string.Create(CultureInfo.InvariantCulture, $$$""" "record":"{{{lamp[1].Id}}}","reason":"r","authorisedBy":"P-9","replacement":{ {{{replacement}}} }""")).Json;
        return
        [
            ("an id with other content", LampWorks.With(lamp[1].Json, "note", "other"), 409, "fact-id-reused", ["/factId"]),
            ("an id with another type", works.Fact("unit-held", 50, LampWorks.Unit("LAMP", 1) + ",\"reason\":\"r\"") is { } held ? LampWorks.With(held.Json, "factId", lamp[1].Id.ToString()) : string.Empty, 409, "fact-id-reused", ["/factId"]),
            ("a replacement of another kind", Correct(works.Content("unit-released", 50, TimeSpan.Zero, "ST-1", "P-1", LampWorks.Unit("LAMP", 1))), 409, "replacement-of-other-kind", ["/replacement/type"]),
            ("a replacement about another unit", Correct(works.Content("step-completed", 50, TimeSpan.Zero, "ST-1", "P-1", LampWorks.Unit("LAMP", 2) + ",\"step\":\"WIRE\"")), 409, "replacement-of-other-subject", ["/replacement"]),
            ("a replacement about another step", Correct(works.Content("step-completed", 50, TimeSpan.Zero, "ST-1", "P-1", LampWorks.Unit("LAMP", 1) + ",\"step\":\"GLUE\"")), 409, "replacement-of-other-step", ["/replacement/step"]),
            ("a replacement in seconds", Correct(works.Content("step-completed", 50, TimeSpan.Zero, "ST-1", "P-1", LampWorks.Unit("LAMP", 1) + ""","step":"WIRE","measurements":[{"characteristic":"DEPTH","value":5,"unit":"s"}]""")), 400, "unit-of-measure-wrong", ["/replacement/measurements/0/unit"]),
        ];
    }
}
