using Traceability.Acceptance.Robustness;

namespace Traceability.Acceptance.Corrections;

/// <summary>A works that builds spot lamps with a head that has a cell inside: what is defined there. All figures are invented.</summary>
/// <remarks>
/// Every rule that a judgement can look at is in use: limits derived from this unit and from a component, a cure by temperature, a pot
/// life from a container's opening, alternatives, an inspection on receipt, a supervised qualification, a verified torque.
/// </remarks>
internal static class SpotWorks
{
    /// <summary>Sites, stations, items, people, tools, lots and released routings.</summary>
    public static List<Sent> Definitions(LampWorks works) =>
    [
        .. Places(works), .. People(works), .. Tools(works), .. Lots(works),
        works.Fact("routing-drafted", -890, TimeSpan.Zero, null, "P-8", Cell),
        works.Define("routing-released", -880, """ "item":"CELL","revision":"A","releasedBy":"P-9" """),
        works.Fact("routing-drafted", -890, TimeSpan.Zero, null, "P-8", Head),
        works.Define("routing-released", -880, """ "item":"HEAD","revision":"A","releasedBy":"P-9" """),
        works.Fact("routing-drafted", -890, TimeSpan.Zero, null, "P-8", Spot("A", """ "serialTo":"12" """, "PT5M")),
        works.Define("routing-approved", -885, """ "item":"SPOT","revision":"A","approvedBy":"P-7" """),
        works.Define("routing-released", -880, """ "item":"SPOT","revision":"A","releasedBy":"P-9" """),
        works.Fact("routing-drafted", -870, TimeSpan.Zero, null, "P-8", Spot("B", """ "serialFrom":"9" """, "PT9M")),
        works.Define("routing-approved", -865, """ "item":"SPOT","revision":"B","approvedBy":"P-7" """),
        works.Define("routing-released", -860, """ "item":"SPOT","revision":"B","releasedBy":"P-9" """),
        works.Define("replacement-declared", -855, """ "item":"SPOT","replaced":"HEAD","with":"HEADN","revisions":["A"],"reason":"Same form, fit and function","authorisedBy":"P-9" """),
        works.Fact("routing-drafted", -850, TimeSpan.Zero, null, "P-8", Spot("C", """ "serialFrom":"900" """, "PT9M")),
        works.Define("routing-approved", -845, """ "item":"SPOT","revision":"C","approvedBy":"P-7" """),
    ];

    /// <summary>The revision that corrections of drafts say, too.</summary>
    public static string Spot(string revision, string effectivity, string cure) =>
        $$$"""
        "revision":{"item":"SPOT","revision":"{{{revision}}}","description":"As {{{revision}}}","effectivity":{ {{{effectivity}}} },"steps":[
          {"code":"WIRE","name":"Wire","characteristics":[{"code":"OK","name":"Seated"},
            {"code":"DEPTH","name":"Depth","unit":"mm","lower":{"constant":2},"upper":{"constant":10},"guardBand":0.5}]},
          {"code":"GLUE","name":"Glue","prerequisites":["WIRE"],"qualification":"BONDING","allowsSupervised":true,
           "materials":[{"code":"GLUE","item":"ADH","alternatives":["ADX"],"tracing":"container","quantityMax":{"value":0.5,"unit":"g"}},{"code":"GREASE","item":"GR"}]},
          {"code":"MARRY","name":"Marry","prerequisites":["GLUE"],"components":[{"position":"HEAD","item":"HEAD","mustBeReleased":true}]},
          {"code":"SCREW","name":"Screw","tools":[{"code":"DRIVER","toolClass":"SCREWDRIVER","setting":"5","torqueMin":{"value":1.1,"unit":"N.m"},"torqueMax":{"value":1.3,"unit":"N.m"}}]},
          {"code":"CLOSE","name":"Close","prerequisites":["MARRY","SCREW"],"isPointOfNoReturn":true,"hides":["WIRE","GLUE"]},
          {"code":"TEST","name":"Test","prerequisites":["CLOSE"],"characteristics":[{"code":"OK","name":"Lights"},
            {"code":"GAP","name":"Gap","unit":"mm","upper":{"constant":1,"terms":[{"factor":0.5,"step":"WIRE","characteristic":"DEPTH"},{"factor":-1,"position":"HEAD","step":"BOND","characteristic":"RIM"}]}}]}],
         "intervals":[
          {"code":"CURE","name":"Cure","from":{"step":"GLUE","kind":"completed"},"to":{"step":"CLOSE","kind":"started"},
           "temperature":{"requirement":"GLUE","state":"full","fallback":"{{{cure}}}","readingGapMax":"PT30M"}},
          {"code":"POT","name":"Pot life","from":{"step":"GLUE","kind":"container-opened","name":"GLUE"},"to":{"step":"GLUE","kind":"completed"},"maximum":"PT9H"},
          {"code":"RUN","name":"Run in","from":{"step":"CLOSE","kind":"started"},"to":{"step":"TEST","kind":"completed"},"minimum":"PT2M"}]}
        """;

    private const string Cell =
        """
        "revision":{"item":"CELL","revision":"A","description":"First","steps":[
          {"code":"WELD","name":"Weld the tab","characteristics":[{"code":"PULL","name":"Pull","unit":"N","lower":{"constant":20}}]}]}
        """;

    private const string Head =
        """
        "revision":{"item":"HEAD","revision":"A","description":"First","steps":[
          {"code":"BOND","name":"Bond the lens","materials":[{"code":"GLUE","item":"ADH","alternatives":["ADX"],"tracing":"lot"}],
           "characteristics":[{"code":"RIM","name":"Rim","unit":"mm","lower":{"constant":1},"upper":{"constant":3}}]},
          {"code":"FIT","name":"Fit the cell","components":[{"position":"CELL","item":"CELL","mustBeReleased":false}]},
          {"code":"TRY","name":"Try the lens","prerequisites":["BOND"],"characteristics":[{"code":"OK","name":"Holds"}]}],
         "intervals":[{"code":"SET","name":"Set","from":{"step":"BOND","kind":"completed"},"to":{"step":"TRY","kind":"started"},"minimum":"PT10M","maximum":"PT3H"}]}
        """;

    private static List<Sent> Places(LampWorks works) =>
    [
        works.Define("site-defined", -995, """ "site":"WORKS","description":"Works","timeZone":"Europe/Lisbon" """),
        works.Define("site-defined", -995, """ "site":"DEPOT","description":"Depot","timeZone":"Pacific/Auckland" """),
        works.Define("station-defined", -990, """ "subject":"ST-1","site":"WORKS","description":"Bench" """),
        works.Define("station-defined", -990, """ "subject":"ST-2","site":"WORKS","description":"Cold bench" """),
        works.Define("station-defined", -990, """ "subject":"DESK","site":"WORKS","description":"Desk" """),
        works.Define("item-defined", -985, """ "item":"SPOT","kind":"product","description":"Spot lamp","variants":["P","C"],"approvalsNeeded":1 """),
        works.Define("item-defined", -985, """ "item":"HEAD","kind":"subassembly","description":"Head" """),
        works.Define("item-defined", -985, """ "item":"HEADN","kind":"subassembly","description":"New head" """),
        works.Define("item-defined", -985, """ "item":"CELL","kind":"subassembly","description":"Cell" """),
        works.Define("item-defined", -985, Adhesive("PT20M")),
        works.Define("item-defined", -985, """ "item":"ADX","kind":"consumable","description":"Other adhesive" """),
        works.Define("item-defined", -985, """ "item":"GR","kind":"consumable","description":"Grease","needsInspection":true """),
        works.Define("defect-code-defined", -980, """ "defect":"CHIP","description":"Chipped" """),
        works.Define("defect-code-defined", -980, """ "defect":"SCRATCH","description":"Scratched" """),
    ];

    /// <summary>The adhesive, with its time to full cure at 15 °C; at 25 °C it takes 8 min.</summary>
    public static string Adhesive(string full) =>
        $$""" "item":"ADH","kind":"consumable","description":"Adhesive","lifeAfterOpening":"PT20H","cure":{"rows":[{"temperature":{"value":15,"unit":"Cel"},"full":"{{full}}"},{"temperature":{"value":25,"unit":"Cel"},"full":"PT8M"}]} """;

    private static List<Sent> People(LampWorks works) =>
    [
        .. new[] { "P-1", "P-2", "P-3", "P-7", "P-8", "P-9" }.Select(p => works.Define("person-defined", -980, $$""" "subject":"{{p}}","displayName":"{{p}}" """)),
        works.Define("qualification-granted", -970, """ "subject":"P-1","qualification":"BONDING" """),
        works.Define("qualification-granted", -970, """ "subject":"P-9","qualification":"DISPOSITION" """),
        works.Define("training-completed", -960, """ "subject":"P-2","topic":"BONDING","trainer":"P-1","grants":["BONDING"],"evidence":"Sheet 12" """),
        works.Define("training-completed", -960, """ "subject":"P-3","topic":"SAFETY","trainer":"P-1" """),
        works.Define("qualification-withdrawn", 900, """ "subject":"P-2","qualification":"BONDING","reason":"Lapsed" """),
    ];

    private static List<Sent> Tools(LampWorks works) =>
    [
        .. new[] { "SD-1", "SD-2" }.SelectMany(t => new[]
        {
            works.Define("tool-defined", -950, $$""" "tool":"{{t}}","toolClass":"SCREWDRIVER","description":"Driver","needsCalibration":true,"calibrationInterval":"P30D" """),
            works.Define(
                "tool-calibrated",
                -945,
                $$""" "tool":"{{t}}","foundGood":true,"leftGood":true,"certificate":"C-1","points":[{"setting":"5","nominal":{"value":1.2,"unit":"N.m"},"asFound":{"value":1.21,"unit":"N.m"} }]"""),
            works.Define("tool-setting-verified", -940, $$""" "tool":"{{t}}","setting":"5","torque":{"value":1.2,"unit":"N.m"} """),
            Check(works, t, 300, "1.22"),
            Check(works, t, 700, t == "SD-1" ? "1.35" : "1.25"),
            works.Define("tool-studied", 200, $$""" "tool":"{{t}}","setting":"5","joint":"HARD","readings":[{"value":1.2,"unit":"N.m"},{"value":1.21,"unit":"N.m"},{"value":1.19,"unit":"N.m"}]"""),
        }),
        works.Define("tool-withdrawn", 710, """ "tool":"SD-1","reason":"Failed its check" """),
        works.Define("tool-calibrated", 760, """ "tool":"SD-1","foundGood":false,"leftGood":true,"certificate":"C-2" """),
        works.Define("tool-reinstated", 765, """ "tool":"SD-1","reason":"Calibrated" """),
    ];

    private static Sent Check(LampWorks works, string tool, double at, string value) => works.Define(
        "tool-checked", at, $$""" "tool":"{{tool}}","setting":"5","readings":[{"value":{{value}},"unit":"N.m"}],"lower":{"value":1.1,"unit":"N.m"},"upper":{"value":1.3,"unit":"N.m"}""");

    // L3 is split off L1, L4 is L1 and L2 together, L5 is split off L4.
    private static List<Sent> Lots(LampWorks works) =>
    [
        works.Define("lot-received", -930, $$""" "lot":{"item":"ADH","lot":"L1"},"supplierLot":"S-1","supplier":"Fell End Supplies","isReleased":true,"quantity":{"value":500,"unit":"g"},"expiresAt":"{{works.Time(100_000)}}" """),
        works.Define("lot-received", -930, $$""" "lot":{"item":"ADH","lot":"L2"},"isReleased":false,"quantity":{"value":500,"unit":"g"},"expiresAt":"{{works.Time(900)}}" """),
        works.Define("lot-inspected", -920, """ "lot":{"item":"ADH","lot":"L2"},"accepted":true,"sampleCount":3,"results":[{"characteristic":"COLOUR","passed":true}] """),
        works.Define("lot-released", -915, """ "lot":{"item":"ADH","lot":"L2"} """),
        works.Define("lot-split", -900, """ "lot":{"item":"ADH","lot":"L3"},"source":{"lot":{"item":"ADH","lot":"L1"},"quantity":{"value":50,"unit":"g"}} """),
        works.Define("lot-merged", -890, """ "lot":{"item":"ADH","lot":"L4"},"sources":[{"lot":{"item":"ADH","lot":"L1"}},{"lot":{"item":"ADH","lot":"L2"}}] """),
        works.Define("lot-released", -885, """ "lot":{"item":"ADH","lot":"L4"} """),
        works.Define("lot-split", -880, """ "lot":{"item":"ADH","lot":"L5"},"source":{"lot":{"item":"ADH","lot":"L4"}} """),
        works.Define("lot-received", -930, """ "lot":{"item":"ADX","lot":"X1"},"isReleased":true """),
        works.Define("lot-received", -930, """ "lot":{"item":"GR","lot":"G1"},"isReleased":false """),
        works.Define("lot-inspected", -925, """ "lot":{"item":"GR","lot":"G1"},"accepted":true """),
        works.Define("lot-released", -920, """ "lot":{"item":"GR","lot":"G1"} """),
        works.Define("lot-received", -930, """ "lot":{"item":"GR","lot":"G2"},"isReleased":true """),
        .. new[] { ("L1", "T1"), ("L2", "T2"), ("L3", "T3"), ("L4", "T4"), ("L5", "T5") }.Select(o =>
            works.Fact("container-opened", -30, $$""" "lot":{"item":"ADH","lot":"{{o.Item1}}"},"container":"{{o.Item2}}" """)),
        works.Define("lot-moved", 10, """ "lot":{"item":"ADH","lot":"L1"},"stations":["ST-1","ST-2"] """),
        works.Define("stock-counted", 500, """ "lot":{"item":"ADH","lot":"L1"},"quantity":{"value":400,"unit":"g"} """),
        works.Define("container-emptied", 1_300, """ "lot":{"item":"ADH","lot":"L1"},"container":"T1" """),
        works.Define("lot-recertified", 850, $$""" "lot":{"item":"ADH","lot":"L2"},"expiresAt":"{{works.Time(1_500)}}","evidence":"Report 17","authorisedBy":"P-9" """),
        works.Define("lot-quarantined", 1_000, """ "lot":{"item":"ADH","lot":"L2"},"reason":"Doubt" """),
        works.Define("lot-expiry-set", 1_100, $$""" "lot":{"item":"ADX","lot":"X1"},"expiresAt":"{{works.Time(1_200)}}","reason":"New data" """),
        works.Define("lot-emptied", 1_400, """ "lot":{"item":"ADH","lot":"L3"},"discarded":{"value":3,"unit":"g"} """),
    ];
}
