using System.Text.Json.Nodes;

namespace Traceability.Simulator.Plant;

/// <summary>How tools are looked after: daily checks, a study, a check that fails, a calibration that finds a tool out.</summary>
internal sealed class ToolCare(Floor floor, int days)
{
    /// <summary>The driver that fails a daily check.</summary>
    public const string Checked = "SD-05";

    /// <summary>The driver that takes its place.</summary>
    public const string Spare = "SD-06";

    private readonly SplitMix _random = SplitMix.For(floor.Seed, "tool-care");

    /// <summary>When the daily check failed.</summary>
    public DateTimeOffset FailedAt { get; } = CheckAt(floor.Calendar, FailsOn(days));

    /// <summary>The last check before it that passed.</summary>
    public DateTimeOffset LastGoodAt { get; } = CheckAt(floor.Calendar, FailsOn(days) - 1);

    private DateTimeOffset ReinstatedAt => FailedAt.AddHours(4);

    /// <summary>Which of the two drivers lies at hand: while the one is looked at, the spare.</summary>
    public string AtHand(DateTimeOffset at) => at >= FailedAt.AddMinutes(-30) && at < ReinstatedAt ? Spare : Checked;

    /// <summary>Sends everything.</summary>
    public void Send()
    {
        for (var day = 0; day < floor.Calendar.Days; day++)
        {
            var at = CheckAt(floor.Calendar, day);
            Check(Checked, "5", "FINAL-2", at, at == FailedAt ? 1.08m : 1.22m, 1.15m, 1.35m);
            Check("SD-03", "3", "DRIVE-1", at.AddMinutes(1), 1.05m, 0.9m, 1.2m);
        }

        Withdraw();
        FindOut();
        Study();
    }

    // Not before pumps have been closed for a day.
    private static int FailsOn(int days) => Math.Max(3, days * 30 / 100);

    private static DateTimeOffset CheckAt(PlantCalendar calendar, int day) => calendar.DayStart(day).AddMinutes(2);

    private void Check(string tool, string setting, string station, DateTimeOffset at, decimal mean, decimal lower, decimal upper) =>
        floor.Ledger.Send(_random.Id(), "tool-checked", at, station, station, null, _ => new()
        {
            ["tool"] = tool,
            ["setting"] = setting,
            ["readings"] = new JsonArray([.. Enumerable.Range(0, 3).Select(_ => (JsonNode)Body.Quantity(_random.Bell(mean, 0.006m, 3), "N.m"))]),
            ["lower"] = Body.Quantity(lower, "N.m"),
            ["upper"] = Body.Quantity(upper, "N.m"),
            ["uncertainty"] = Body.Quantity(2m, "cN.m"),
        });

    // Out of use at once; calibrated, measured at its settings, and put back.
    private void Withdraw()
    {
        var withdrawn = Send("tool-withdrawn", FailedAt.AddMinutes(6), Senders.Engineer, new() { ["tool"] = Checked, ["reason"] = "Failed its daily check" }, null);
        var calibrated = Calibrate(Checked, FailedAt.AddHours(3), withdrawn);
        Verify(Checked, "5", 1.24m, FailedAt.AddHours(3.2));
        Verify(Checked, "3", 0.83m, FailedAt.AddHours(3.3));
        Send("tool-reinstated", ReinstatedAt, Senders.Quality, new() { ["tool"] = Checked, ["reason"] = "Calibrated and measured" }, calibrated);
    }

    // A driver is calibrated on a schedule and found out: everything since the calibration before is in doubt.
    private void FindOut()
    {
        floor.FoundOutAt = floor.Calendar.DayStart(days * 70 / 100).AddHours(1);
        floor.Truth.BadTool = "SD-04";
        floor.Truth.BadToolFoundAt = floor.FoundOutAt;
        Calibrate("SD-04", floor.FoundOutAt, null);
        Verify("SD-04", "5", 1.26m, floor.FoundOutAt.AddMinutes(10));
    }

    private PlantFact Calibrate(string tool, DateTimeOffset at, PlantFact? after) => floor.Ledger.Send(
        _random.Id(), "tool-calibrated", at, Senders.Engineer, null, "P-3", shown => new()
        {
            ["tool"] = tool,
            ["foundGood"] = false,
            ["leftGood"] = true,
            ["validUntil"] = shown(at.AddDays(365)),
            ["certificate"] = $"C-{tool}-2",
            ["points"] = Body.List(new JsonObject
            {
                ["setting"] = "5",
                ["nominal"] = Body.Quantity(1.25m, "N.m"),
                ["asFound"] = Body.Quantity(1.07m, "N.m"),
                ["asLeft"] = Body.Quantity(1.25m, "N.m"),
                ["uncertainty"] = Body.Quantity(0.02m, "N.m"),
            }),
        }, after: after?.Id);

    private void Verify(string tool, string setting, decimal torque, DateTimeOffset at) =>
        Send("tool-setting-verified", at, Senders.Engineer, new() { ["tool"] = tool, ["setting"] = setting, ["torque"] = Body.Quantity(torque, "N.m") }, null);

    private void Study()
    {
        foreach (var (joint, mean, minute) in new[] { ("HARD", 1.25m, 0), ("SOFT", 1.21m, 20) })
        {
            Send("tool-studied", floor.Calendar.DayStart(1).AddMinutes(30 + minute), Senders.Engineer, new()
            {
                ["tool"] = Checked,
                ["setting"] = "5",
                ["joint"] = joint,
                ["readings"] = new JsonArray([.. Enumerable.Range(0, 25).Select(_ => (JsonNode)Body.Quantity(_random.Bell(mean, 0.012m, 3), "N.m"))]),
            }, null);
        }
    }

    private PlantFact Send(string type, DateTimeOffset at, string sender, JsonObject body, PlantFact? after) =>
        floor.Ledger.Send(_random.Id(), type, at, sender, null, sender == Senders.Quality ? "P-9" : "P-3", _ => body, after: after?.Id);
}
