using System.Text.Json.Nodes;
using static Traceability.Simulator.Plant.RoutingParts;

namespace Traceability.Simulator.Plant;

/// <summary>The routings of the demo scenario. Every figure in them is invented, apart from those that say common practice.</summary>
internal static class Routings
{
    private const string Started = "started";
    private const string Completed = "completed";
    private const string Mark = "mark";

    /// <summary>The case: display lens on tape, sensor bonded for good at a tested position, its leads potted.</summary>
    public static JsonObject Case() => Revision(
        "CA-2",
        "A",
        "First issue",
        Always(),
        [
            Step(
                "LENS", "Lay the display lens on tape and clamp it", [], ["CASE-1", "CASE-2"], "BONDING",
                characteristics: [Check("CLEAN", "Bond faces wiped and dry")],
                materials: [Material("TAPE", "TAPE-2", "lot", 1m, 2m, "1")]),
            Step(
                "UNCLAMP", "Take the clamp off", ["LENS"], ["CASE-1", "CASE-2"], "BONDING",
                characteristics: [Check("EDGE", "No light under the edge")]),
            Step(
                "SENSOR-POS", "Set the sensor near half travel and test it", ["UNCLAMP"], ["CASE-1", "CASE-2"], "BONDING",
                characteristics:
                [
                    Measure("TRAVEL", "Position in percent of travel", "%", 40m, 60m),
                    Check("SWITCHES", "Switches both ways"),
                ],
                components: [Component("SENSOR", "SN-6", mustBeReleased: false)]),
            Step(
                "SENSOR-BOND", "Bond the sensor for good", ["SENSOR-POS"], ["CASE-1", "CASE-2"], "BONDING",
                noReturn: true, hides: ["SENSOR-POS"],
                cautions: ["Instant adhesive bonds skin and eyes: gloves and glasses on.", "Vapour irritates: extraction on."],
                materials: [Material("ADHESIVE", "ADH-1", "container", 0.02m, 0.2m, "g")]),
            Step(
                "CASE-TEST", "Load the bond and test the sensor", ["SENSOR-BOND"], ["CASE-1", "CASE-2"], "BONDING",
                characteristics:
                [
                    Measure("OUTPUT", "Sensor output", "mV", 480m, 520m, 1m),
                    Check("HELD", "Sensor held under load"),
                ]),
            Step(
                "POT", "Pot the sensor's leads with the compound", ["CASE-TEST"], ["CASE-1", "CASE-2"], "BONDING",
                cautions: ["Resin and hardener irritate, and the skin can become allergic to them: gloves and glasses on.", "A large pot grows hot as it sets: mix little."],
                characteristics: [Check("FILLED", "Filled to the rim, no bubbles")],
                materials: [Material("POTTING", MixBench.Item, "lot", 5m, 12m, "g")]),
        ],
        [
            // Common practice, no source: a pressure-sensitive bond is clamped 5 to 10 minutes before it is loaded.
            Interval("TAPE-CLAMP", "Clamping of the tape", Milestone("LENS", Completed), Milestone("UNCLAMP", Started), "PT5M", "PT10M"),
            Interval("ADH-SET", "Setting of the instant adhesive", Milestone("SENSOR-BOND", Completed), Milestone("CASE-TEST", Started), null, null,
                temperature: new() { ["requirement"] = "ADHESIVE", ["state"] = "handling", ["fallback"] = "PT10M", ["readingGapMax"] = "PT30M" }),
        ]);

    /// <summary>The drive, revision A: the hub is threadlocked on the shaft.</summary>
    public static JsonObject DriveA() => Revision(
        "DR-2",
        "A",
        "Hub threadlocked on the shaft",
        Always(),
        [
            Step(
                "HUB-FIT", "Threadlock the hub on the shaft", [], ["DRIVE-1"], "DRIVES",
                cautions: ["Threadlocker irritates skin: gloves on."],
                characteristics: [Measure("TORQUE", "Hub screw torque", "N.m", 0.9m, 1.2m)],
                materials: [Material("LOCKER", "THL-3", "container")],
                tools: [Tool("DRIVER", "SCREWDRIVER", "3", 0.9m, 1.2m)]),
            Spin("HUB-FIT"),
        ],
        [Interval("LOCK-CURE", "Cure of the threadlocker", Milestone("HUB-FIT", Completed), Milestone("SPIN", Started), "PT4H", null)]);

    /// <summary>The drive, revision B: the bearing is dropped into a hot housing. It applies to drives opened from a date on.</summary>
    public static JsonObject DriveB(string openedFrom) => Revision(
        "DR-2",
        "B",
        "Bearing dropped into a housing heated in an oven",
        new() { ["openedFrom"] = openedFrom },
        [
            Step(
                "OVEN", "Soak the housing in the oven", [], ["OVEN-1"], "DRIVES",
                cautions: ["Hot parts burn: heat gloves on."],
                characteristics: [Measure("TEMPERATURE", "Oven temperature", "Cel", 225m, 240m)],
                tools: [Tool("OVEN", "OVEN")]),
            Step(
                "BEARING", "Drop the bearing into the hot housing", ["OVEN"], ["OVEN-1"], "DRIVES",
                noReturn: true,
                cautions: ["Hot parts burn: heat gloves on."],
                characteristics: [Check("SEATED", "Bearing down on its shoulder")],
                materials: [Material("BEARING", "BR-8", "lot")]),
            Spin("BEARING"),
        ],
        [
            // Common practice, no source: an aluminium part is heated 15 minutes at 450 degrees Fahrenheit and left
            // 10 to 20 minutes after fitting until hand-warm.
            Interval("SOAK", "Oven soak", Milestone("OVEN", Mark, "OVEN-IN"), Milestone("OVEN", Mark, "OVEN-OUT"), "PT15M", "PT30M"),
            Interval("TRANSFER", "From the oven into the fit", Milestone("OVEN", Mark, "OVEN-OUT"), Milestone("BEARING", Completed), null, "PT1M30S"),
            Interval("COOL-DOWN", "Cooling until hand-warm", Milestone("BEARING", Completed), Milestone("SPIN", Started), "PT10M", null),
        ]);

    /// <summary>The head: a shim is chosen from two measured depths.</summary>
    public static JsonObject HeadA() => Head("A", "First issue", Always(), [Check("LIP", "Lip not turned")]);

    /// <summary>The head, revision B: the seal's stand-out is measured. It applies to heads opened from a date on.</summary>
    public static JsonObject HeadB(string openedFrom) => Head(
        "B", "Stand-out of the seal is measured", new() { ["openedFrom"] = openedFrom },
        [Check("LIP", "Lip not turned"), Measure("STAND-OUT", "Stand-out of the seal", "mm", 0.3m, 0.6m)]);

    private static JsonObject Head(string revision, string description, JsonObject effectivity, JsonArray seal) => Revision(
        "HD-2",
        revision,
        description,
        effectivity,
        [
            Step(
                "DEPTH", "Measure bore and bearing", [], ["HEAD-1"], "HEADS",
                characteristics:
                [
                    Measure("BORE", "Depth of the bore", "mm", 12.00m, 12.60m),
                    Measure("WIDTH", "Width of the bearing", "mm", 11.00m, 11.30m),
                ],
                tools: [Tool("GAUGE", "DEPTH-GAUGE")]),
            Step(
                "SHIM", "Choose and fit the shim", ["DEPTH"], ["HEAD-1"], "HEADS",
                characteristics:
                [
                    Measure(
                        "THICKNESS", "Thickness of the shim", "mm",
                        Derived(-0.05m, (1m, "DEPTH", "BORE"), (-1m, "DEPTH", "WIDTH")),
                        Derived(0.03m, (1m, "DEPTH", "BORE"), (-1m, "DEPTH", "WIDTH"))),
                ],
                materials: [Material("SHIM", "SH-3", "lot", 1m, 3m, "1")]),
            Step(
                "ROTOR", "Fit the rotor and gauge its clearance", ["SHIM"], ["HEAD-1"], "HEADS",
                characteristics: [Measure("CLEARANCE", "Rotor clearance by feeler gauge", "mm", 0.10m, 0.20m)]),
            Step(
                "SEAL", "Grease and fit the shaft seal", ["ROTOR"], ["HEAD-1"], "HEADS", allowsSupervised: true,
                materials: [Material("GREASE", "GRS-4", "lot")],
                characteristics: seal),
        ],
        []);

    /// <summary>The pump: the three married, coated where coastal, closed, tested, battery in.</summary>
    public static JsonObject Pump() => Revision(
        "FP-2", "A", "First issue", Always(), [.. PumpAssembly(), .. PumpTests()],
        [
            Interval("COAT-CURE", "Cure of the coating", Milestone("COAT", Completed), Milestone("COVER", Started), "PT6H", "P3D", ForVariant("FP-2C")),
            Interval("COAT-LIFE", "Pot life of the coating", Milestone("COAT", "container-opened", "COATING"), Milestone("COAT", Completed), null, "P10D", ForVariant("FP-2C")),
        ]);

    private static JsonNode[] PumpAssembly() =>
    [
        Step(
            "MARRY", "Marry case, drive and head", [], ["FINAL-1", "FINAL-2"], "FINAL-ASSEMBLY",
            characteristics: [Check("ALIGNED", "Shafts turn by hand")],
            components: [Component("CASE", "CA-2", true), Component("DRIVE", "DR-2", true), Component("HEAD", "HD-2", true)]),
        Step(
            "COAT", "Conformal coat on the board", ["MARRY"], ["COAT-1"], "COATING", appliesTo: ForVariant("FP-2C"),
            cautions: ["Solvent vapour is flammable and harmful: extraction on, no sparks."],
            characteristics: [Check("COVERED", "Covered under ultraviolet light")],
            materials: [Material("COATING", "COAT-5", "container")]),
        Step(
            "COVER", "Grease the O-rings and screw the cover to torque", ["MARRY", "COAT"], ["FINAL-1", "FINAL-2"], "FINAL-ASSEMBLY",
            characteristics: [.. Enumerable.Range(1, 4).Select(i => (JsonNode)Measure($"TORQUE-{i}", $"Torque of cover screw {i}", "N.m", 1.1m, 1.4m))],
            materials:
            [
                Material("O-RING", "OR-5", "lot", 2m, 2m, "1"),
                Material("GREASE", "GRS-4", "lot"),
                Material("SEAL-KIT", "SK-1", "lot", appliesTo: ForVariant("FP-2C")),
                Material("SCREWS", "SC-4", "none"),
            ],
            tools: [Tool("DRIVER", "SCREWDRIVER", "5", 1.15m, 1.35m)]),
    ];

    private static JsonNode[] PumpTests() =>
    [
        Step(
            "LEAK", "Pressure-decay leak test", ["COVER"], ["TEST-1"], "TESTING",
            characteristics: [Measure("DECAY", "Pressure lost in 10 s", "Pa", null, 50m, 2m)],
            tools: [Tool("TESTER", "LEAK-TESTER")]),
        Step(
            "RUN", "Run test in water", ["LEAK"], ["TEST-1"], "TESTING",
            characteristics:
            [
                Measure("FLOW", "Flow", "L/min", 2.0m, null),
                Measure("CURRENT", "Current", "A", 0.5m, 1.6m),
            ]),
        Step(
            "BATTERY", "Fit the battery", ["RUN"], ["FINAL-1", "FINAL-2"], "FINAL-ASSEMBLY",
            cautions: ["Lithium battery: don't short, crush or heat it."],
            characteristics: [Check("LATCHED", "Latch closed")],
            components: [Component("BATTERY", "BP-4", mustBeReleased: false)]),
        Step(
            "FINAL-QC", "Last look", ["BATTERY"], ["TEST-1"], "FINAL-QC",
            characteristics: [Check("LABEL", "Label readable and right"), Check("LOOKS", "No scratches")]),
    ];

    private static JsonObject Spin(string after) => Step(
        "SPIN", "Spin the drive and measure its run-out", [after], ["DRIVE-1"], "DRIVES",
        characteristics: [Measure("RUN-OUT", "Run-out of the shaft", "mm", null, 0.05m)]);
}
