using System.Text.Json.Nodes;

namespace Traceability.Simulator.Plant;

/// <summary>The definitions of the demo scenario, sent as facts like everything else.</summary>
internal sealed class MasterData(Ledger ledger, PlantCalendar calendar, SplitMix random, DemoScope scope)
{
    /// <summary>Where a person may work, with the qualification: one for the early shift, one for the late one.</summary>
    private static readonly (string Qualification, string Early, string Late)[] Crews =
    [
        ("BONDING", "P-11", "P-12"),
        ("DRIVES", "P-13", "P-14"),
        ("HEADS", "P-15", "P-16"),
        ("FINAL-ASSEMBLY", "P-17", "P-18"),
        ("COATING", "P-19", "P-23"),
        ("TESTING", "P-20", "P-21"),
        ("FINAL-QC", "P-20", "P-21"),
    ];

    /// <summary>The person without the qualification.</summary>
    public const string Unqualified = "P-22";

    /// <summary>The person whose qualification runs out, and is granted anew by a training.</summary>
    public const string Lapsed = "P-24";

    /// <summary>The person who learns, and works under another one's eyes.</summary>
    public const string Trainee = "P-25";

    /// <summary>Quality's desk: decisions are made there, so they have a site and a day.</summary>
    public const string Desk = "QC-1";

    public static readonly string[] Stations =
        ["PLAN-1", "CASE-1", "CASE-2", "DRIVE-1", "OVEN-1", "HEAD-1", "FINAL-1", "FINAL-2", "COAT-1", "TEST-1", "STORE-1", Desk];

    /// <summary>Who does such work in that shift.</summary>
    public static string Crew(string qualification, bool late)
    {
        var crew = Crews.First(c => c.Qualification == qualification);
        return late ? crew.Late : crew.Early;
    }

    /// <summary>Sends everything that is defined before the first day.</summary>
    /// <param name="driveRevisionFrom">From when on drives are built to revision B.</param>
    /// <param name="headRevisionFrom">From when on heads are built to revision B.</param>
    /// <param name="perDay">How many units of an item are begun a day.</param>
    public void SendFirst(DateTimeOffset driveRevisionFrom, DateTimeOffset headRevisionFrom, int perDay)
    {
        var at = calendar.DayStart(0).AddDays(-14);
        ledger.Send(DemoScope.FactId, "site-defined", at, Senders.Engineer, null, "P-3", _ => new()
        {
            ["site"] = "ALDER", ["description"] = $"Alder Reach Instruments, works. {scope.Describe()}", ["timeZone"] = PlantCalendar.ZoneName,
        });
        foreach (var station in Stations)
        {
            Define("station-defined", at.AddMinutes(1), new() { ["subject"] = station, ["site"] = "ALDER", ["description"] = $"Station {station}" });
        }

        SendItems(at.AddMinutes(2));
        foreach (var (code, text) in new[] { ("LEAK", "Loses pressure"), ("NOISE", "Runs noisily"), ("SCRATCH", "Scratched"), ("LOOSE", "Part comes loose"), ("DRIP", "Drips at the cover"), ("DEAD", "Gives no signal") })
        {
            Define("defect-code-defined", at.AddMinutes(3), new() { ["defect"] = code, ["description"] = text });
        }

        SendPeople(at.AddMinutes(4));
        SendTraining(at.AddMinutes(6), scope.Finals * 60 / 100 / perDay, scope.Finals * 80 / 100 / perDay);
        SendTools(at.AddMinutes(5));
        foreach (var revision in new[] { Routings.Case(), Routings.DriveA(), Routings.HeadA(), Routings.Pump() })
        {
            Release(revision, at.AddMinutes(20));
        }

        Release(Routings.HeadB(Body.Time(calendar.Local(headRevisionFrom))), headRevisionFrom.AddDays(-2));
        Release(Routings.DriveB(Body.Time(calendar.Local(driveRevisionFrom))), driveRevisionFrom.AddDays(-5));
    }

    private void SendItems(DateTimeOffset at)
    {
        Item(at, "FP-2", "product", "Field pump", ["FP-2", "FP-2C"]);
        Item(at, "CA-2", "subassembly", "Case with display and sensor");
        Item(at, "DR-2", "subassembly", "Drive", more: new() { ["approvalsNeeded"] = 1 });
        Item(at, "HD-2", "subassembly", "Pump head");
        Item(at, "SN-6", "part", "Level sensor, bought, serialised");
        Item(at, "BP-4", "part", "Battery pack, bought, serialised");
        Item(at, "BR-8", "part", "Ball bearing", more: new() { ["needsInspection"] = true });
        Item(at, "SH-3", "part", "Shim");
        Item(at, "OR-5", "part", "O-ring");
        Item(at, "SK-1", "part", "Seal kit, coastal");
        Item(at, "SC-4", "part", "Cover screw");
        Item(at, "ADH-1", "consumable", "Instant adhesive", life: "P5D", more: new() { ["cure"] = Climate.Cure() });
        Item(at, "TAPE-2", "consumable", "Pressure-sensitive tape");
        Item(at, "THL-3", "consumable", "Threadlocker", life: "P30D");
        Item(at, "GRS-4", "consumable", "Grease");
        Item(at, "COAT-5", "consumable", "Conformal coating");
        Item(at, MixBench.Resin, "consumable", "Potting resin");
        Item(at, MixBench.Hardener, "consumable", "Hardener of the potting resin", more: new() { ["needsInspection"] = true });
        Item(at.AddSeconds(1), MixBench.Item, "consumable", "Potting compound, mixed at the bench", more: MixBench.Mix());
    }

    private void SendPeople(DateTimeOffset at)
    {
        foreach (var person in new[] { "P-3", "P-9", "P-11", "P-12", "P-13", "P-14", "P-15", "P-16", "P-17", "P-18", "P-19", "P-20", "P-21", "P-22", "P-23", Lapsed, Trainee, "P-30" })
        {
            Define("person-defined", at, new() { ["subject"] = person, ["displayName"] = person });
        }

        foreach (var (qualification, early, late) in Crews)
        {
            foreach (var person in new[] { early, late })
            {
                Define("qualification-granted", at.AddMinutes(1), new() { ["subject"] = person, ["qualification"] = qualification });
            }
        }
    }

    // One qualification runs out, and a training grants it anew later on; quality may decide about what does not conform.
    private void SendTraining(DateTimeOffset at, int lapsesOnDay, int trainedOnDay)
    {
        Define("qualification-granted", at, new() { ["subject"] = "P-9", ["qualification"] = "DISPOSITION" });
        Define("qualification-granted", at, new()
        {
            ["subject"] = Lapsed, ["qualification"] = "HEADS", ["validUntil"] = Body.Time(calendar.Local(calendar.DayStart(lapsesOnDay))),
        });
        var trained = calendar.DayStart(trainedOnDay).AddMinutes(3);
        Define("training-completed", trained, new()
        {
            ["subject"] = Lapsed,
            ["topic"] = "SHAFT-SEALS",
            ["trainer"] = "P-15",
            ["evidence"] = "Signed list of the day",
            ["grants"] = Body.Texts(["HEADS"]),
            ["validUntil"] = Body.Time(calendar.Local(trained.AddDays(365))),
        });
    }

    private void SendTools(DateTimeOffset at)
    {
        Tool(at, "SD-03", "SCREWDRIVER", "Driver with clutch at the drives", ("3", 1.05m));
        Tool(at, "SD-04", "SCREWDRIVER", "Driver with clutch", ("5", 1.25m), ("3", 0.84m));
        Tool(at, "SD-05", "SCREWDRIVER", "Driver with clutch, checked each day", ("5", 1.22m), ("3", 0.82m));
        Tool(at, ToolCare.Spare, "SCREWDRIVER", "Spare driver with clutch", ("5", 1.24m));
        Tool(at, "DG-1", "DEPTH-GAUGE", "Depth gauge");
        Tool(at, "DG-2", "DEPTH-GAUGE", "Spare depth gauge, its calibration not renewed in time", validUntil: calendar.DayStart(calendar.Days - 2));
        Tool(at, "OV-1", "OVEN", "Oven");
        Tool(at, "LT-1", "LEAK-TESTER", "Pressure-decay tester");
    }

    private void Tool(DateTimeOffset at, string tool, string toolClass, string description, params (string Setting, decimal Torque)[] settings) =>
        Tool(at, tool, toolClass, description, at.AddDays(365), settings);

    private void Tool(DateTimeOffset at, string tool, string toolClass, string description, DateTimeOffset validUntil, params (string Setting, decimal Torque)[] settings)
    {
        Define("tool-defined", at, new() { ["tool"] = tool, ["toolClass"] = toolClass, ["description"] = description, ["needsCalibration"] = true });
        Define("tool-calibrated", at.AddMinutes(1), new()
        {
            ["tool"] = tool,
            ["foundGood"] = true,
            ["leftGood"] = true,
            ["validUntil"] = Body.Time(calendar.Local(validUntil)),
            ["certificate"] = $"C-{tool}-1",
        });
        foreach (var (setting, torque) in settings)
        {
            Define("tool-setting-verified", at.AddMinutes(2), new()
            {
                ["tool"] = tool, ["setting"] = setting, ["torque"] = Body.Quantity(torque, "N.m"),
            });
        }
    }

    private void Item(DateTimeOffset at, string item, string kind, string description, string[]? variants = null, string? life = null, JsonObject? more = null)
    {
        var body = new JsonObject { ["item"] = item, ["kind"] = kind, ["description"] = description, ["variants"] = Body.Texts(variants ?? []) };
        if (life is not null)
        {
            body["lifeAfterOpening"] = life;
        }

        foreach (var (name, value) in more ?? [])
        {
            body[name] = value?.DeepClone();
        }

        Define("item-defined", at, body);
    }

    private void Release(JsonObject revision, DateTimeOffset at)
    {
        var item = revision["item"]!.DeepClone();
        var code = revision["revision"]!.DeepClone();
        Define("routing-drafted", at, new() { ["revision"] = revision });
        var approved = Define("routing-approved", at.AddMinutes(3), new() { ["item"] = item, ["revision"] = code, ["approvedBy"] = "P-9" }, "P-9");
        Define("routing-released", at.AddMinutes(5), new() { ["item"] = item.DeepClone(), ["revision"] = code.DeepClone(), ["releasedBy"] = "P-3" }, after: approved);
    }

    private PlantFact Define(string type, DateTimeOffset at, JsonObject body, string person = "P-3", PlantFact? after = null) =>
        ledger.Send(random.Id(), type, at, Senders.Engineer, null, person, _ => body, after: after?.Id);
}
