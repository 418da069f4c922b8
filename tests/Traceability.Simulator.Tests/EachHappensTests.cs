using System.Text.Json;
using Traceability.Domain.Dispersion;
using Traceability.Simulator.Plant;
using Traceability.Simulator.Truth;
using Xunit;

namespace Traceability.Simulator.Tests;

/// <summary>What happens to units, lots, tools, people and batches: each of it at least once in the demo, by a fact, a finding, or from where to where something went.</summary>
public sealed class EachHappensTests
{
    private static readonly (string What, Func<bool> Happens)[] Table =
    [
        ("a cure by temperature readings", () => Has("temperature-recorded") && Open("ADH-SET", "SENSOR-BOND")),
        ("a colder night, on which a bond that was loaded as always was loaded too early", () => Hit(TroubleKind.LoadedTooEarlyByDose, "interval-too-short", "ADH-SET")),
        ("a mix", () => Has("lot-mixed")),
        ("a mix used after its pot life", () => Found("pot-life-exceeded", "POTTING")),
        ("a mix with too much of one part", () => Found("mix-ratio-out-of-limits", "POTTING")),
        ("a mix of which a part was not weighed", () => Found("mix-ratio-not-recorded", "POTTING")),
        ("a mix that nobody scanned", () => Gap("lot", MixBench.Item)),
        ("a pot that is thrown away, and what was left in it", () => Has("lot-emptied", "discarded")),
        ("an oven load of parts without serials", () => Has("batch-formed") && Has("batch-step-started") && Has("batch-step-completed")),
        ("its parts become units", () => Has("unit-opened", "batch")),
        ("its end, with parts that were thrown away", () => Has("batch-ended", "scrapped")),
        ("a soak", () => Interval("SOAK", "DR-2", "OVEN")),
        ("a transfer that took too long", () => Hit(TroubleKind.TransferTooSlow, "interval-too-long", "TRANSFER")),
        ("a cool-down that was too short", () => Found("interval-too-short", "COOL-DOWN")),
        ("a torque capability study", () => Has("tool-studied")),
        ("daily checks, and one that fails", () => Has("tool-checked") && Found("tool-found-out", "DRIVER") && Hit(TroubleKind.DriverFailedCheck, "tool-found-out", "DRIVER")),
        ("a calibration that is due", () => Calibrations().Any(c => c.Last().ValidUntil < Plant.Now)),
        ("a calibration that was done", () => Calibrations().Any(c => c.Count() > 1 && c.Last().LeftGood)),
        ("a calibration that a tool failed, with what is suspect by it", () => Calibrations().Any(c => c.Any(x => !x.FoundGood)) && Suspect()),
        ("a tool out of use and back", () => Has("tool-withdrawn") && Has("tool-reinstated")),
        ("a fit chosen from measured depths", () => Units("HD-2").Any(u => u.Steps.Any(s => s is { Step: "SHIM", Passed: true }))),
        ("a measured depth that was corrected", () => Corrected("step-completed", "DEPTH")),
        ("a nonconformance from a finding", () => Answers.Nonconformances().Any(n => n.Nonconformance is { Kind: "check-failed", Disposition: not null })),
        ("a nonconformance from a person", () => Answers.Nonconformances().Any(n => n.Nonconformance is { Kind: "nonconformance-reported", Disposition: not null })),
        ("an attachment", () => Has("nonconformance-reported", "attachments") && Plant.Files.Count > 0),
        ("rework", () => Disposed("rework")),
        ("repair", () => Disposed("repair")),
        ("use as is", () => Disposed("use-as-is")),
        ("scrap", () => Disposed("scrap")),
        ("return to the supplier", () => Disposed("return-to-supplier")),
        ("rework that opens a step again, which is done again", () => Has("nonconformance-disposed", "reopens") && Units("DR-2").Any(u => u.Steps.Any(s => s is { Step: "HUB-FIT", Attempt: 2, IsRework: true }))),
        ("a concession", () => Answers.Nonconformances().Any(n => n.Nonconformance.Concession == "CN-7")),
        ("a hold, and its end", () => Has("unit-held") && Has("unit-hold-lifted")),
        ("units that wait for a release by signature", () => Plant.Truth.Unsigned.Count > 1),
        ("shipments", () => Units("FP-2").Any(u => u.Place == "shipped")),
        ("a return", () => Has("unit-returned") && Units("FP-2").Any(u => u.Place == "returned")),
        ("a replaced component", () => Units("FP-2").Any(u => u.Contents.Any(c => c is { Position: "BATTERY", To: not null }) && u.Contents.Any(c => c is { Position: "BATTERY", To: null }))),
        ("revisions for units from a time on", () => Units("DR-2").Select(u => u.Revision).Distinct(StringComparer.Ordinal).Count() == 2),
        ("a unit moved to another revision, with what carries over", () => Has("unit-moved-to-revision", "carriesOver")),
        ("an approval by a second person", () => Has("routing-approved", "approvedBy")),
        ("an inspection on receipt", () => Has("lot-inspected") && Has("lot-released")),
        ("a sublot", () => Has("lot-split")),
        ("lots put together", () => Has("lot-merged")),
        ("containers opened and emptied", () => Has("container-opened") && Has("container-emptied")),
        ("a lot used after its shelf life", () => Found("lot-expired", "TAPE")),
        ("a shelf life set anew, and one that was extended", () => Has("lot-expiry-set") && Has("lot-recertified")),
        ("one lot of the supplier that came in as several", () => Facts("lot-received").GroupBy(f => Text(f, "supplierLot"), StringComparer.Ordinal).Any(g => g.Count() > 1)),
        ("a count that corrects the stock", () => Has("stock-counted", "loss")),
        ("a balance with something unexplained", () => Answers.Balance("SH-3", "S2401")!.UnexplainedLeast > 0),
        ("lots spread wider than if they had been used up one after another", () => Spread("GRS-4").LinksByMixing > 0 && Spread("SH-3").LinksByMixing == 0),
        ("a quarantine, and what it holds back", () => Has("lot-quarantined") && Found("lot-not-released", "ADHESIVE")),
        ("a qualification that had run out", () => Hit(TroubleKind.QualificationExpired, "person-not-qualified", "HEADS")),
        ("a training", () => Has("training-completed", "grants")),
        ("work under supervision", () => Has("step-completed", "supervisor")),
        ("a record corrected, one void, and a correction void", () => Has("record-corrected") && Corrected("step-completed", "LENS") && Has("record-voided")),
        ("a clock that is far off", () => Found("clock-doubtful", string.Empty)),
    ];

    public static TheoryData<string> Names => [.. Table.Select(t => t.What)];

    private static PlantRun Plant => Demo.Full.Value;

    private static PlantAnswers Answers => Demo.FullAnswers.Value;

    [Theory]
    [MemberData(nameof(Names))]
    public void It_happens_in_the_demo(string what) => Assert.True(Table.Single(t => t.What == what).Happens(), $"The demo lacks {what}.");

    private static IEnumerable<PlantFact> Facts(string type) => Plant.Facts.Where(f => f.Type == type);

    private static bool Has(string type, string? member = null) => Facts(type).Any(f => member is null || Member(f, member).ValueKind != JsonValueKind.Undefined);

    private static IEnumerable<UnitAnswer> Units(string item) => Answers.Units.Values.Where(u => u.Unit.StartsWith(item + "/", StringComparison.Ordinal));

    private static bool Found(string kind, string rule) => Answers.Units.Values.Any(u => u.Findings.Any(f => f.Kind == kind && f.Rule == rule));

    private static bool Hit(TroubleKind trouble, string kind, string rule) =>
        Plant.Truth.Troubles.Any(t => t.Kind == trouble && Answers.Units[t.Unit].Findings.Any(f => f.Kind == kind && f.Rule == rule));

    private static bool Gap(string kind, string item) => Answers.Units.Values.Any(u => u.Gaps.Any(g => g.Kind == kind && g.Items.Contains(item, StringComparer.Ordinal)));

    // It starts and ends on units, and is not broken everywhere.
    private static bool Interval(string rule, string item, string step) => Units(item).Any(u => u.Steps.Any(s => s.Step == step) && !u.Findings.Any(f => f.Rule == rule));

    // Told up to the moment after a bond, it is open.
    private static bool Open(string rule, string step)
    {
        var bond = Facts("step-completed").First(f => Text(f, "step") == step);
        return Recomputation.Of([.. Plant.Facts.Where(f => f.HappenedAt <= bond.HappenedAt)], bond.HappenedAt).Units[bond.Unit!].Open.Any(o => o.Rule == rule);
    }

    private static bool Suspect() => Answers.UsesOf(Plant.Truth.BadTool).Any(u => u.Use.IsSuspect) && Answers.UsesOf(Plant.Truth.BadTool).Any(u => !u.Use.IsSuspect);

    private static bool Disposed(string disposition) => Answers.Nonconformances().Any(n => n.Nonconformance is { State: "closed" } && n.Nonconformance.Disposition == disposition);

    private static bool Corrected(string type, string step)
    {
        var records = Facts(type).Where(f => Text(f, "step") == step).Select(f => f.Id.ToString()).ToHashSet(StringComparer.Ordinal);
        return Facts("record-corrected").Any(f => records.Contains(Text(f, "record")!));
    }

    private static IEnumerable<IGrouping<string?, (DateTimeOffset ValidUntil, bool FoundGood, bool LeftGood)>> Calibrations() => Facts("tool-calibrated").OrderBy(f => f.HappenedAt)
        .GroupBy(f => Text(f, "tool"), f => (Member(f, "validUntil").GetDateTimeOffset(), Member(f, "foundGood").GetBoolean(), Member(f, "leftGood").GetBoolean()), StringComparer.Ordinal);

    private static BatchDispersion Spread(string item)
    {
        var inside = Answers.Units.Values.SelectMany(u => u.Contents.Where(c => c.To is null).Select(c => (c.Component, u.Unit))).ToDictionary(c => c.Component, c => c.Unit, StringComparer.Ordinal);
        string Outermost(string unit) => inside.TryGetValue(unit, out var parent) ? Outermost(parent) : unit;
        return BatchDispersion.Of(Answers.Units.Values.SelectMany(u => u.Usages.Where(x => x.Item == item).Select(x => new LotLink(x.Lot, Outermost(u.Unit)))));
    }

    private static string? Text(PlantFact fact, string member) => Member(fact, member) is { ValueKind: JsonValueKind.String } text ? text.GetString() : null;

    private static JsonElement Member(PlantFact fact, string name)
    {
        using var body = fact.Parse();
        return body.RootElement.TryGetProperty(name, out var value) ? value.Clone() : default;
    }
}
