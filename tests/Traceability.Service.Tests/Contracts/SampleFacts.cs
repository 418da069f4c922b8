using System.Collections.Immutable;
using Traceability.Domain.Batches;
using Traceability.Domain.Containments;
using Traceability.Domain.Cure;
using Traceability.Domain.Facts;
using Traceability.Domain.Items;
using Traceability.Domain.Judging;
using Traceability.Domain.Lots;
using Traceability.Domain.Nonconformances;
using Traceability.Domain.People;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;
using Traceability.Domain.Scope;
using Traceability.Domain.Sites;
using Traceability.Domain.Tools;

namespace Traceability.Service.Tests.ContractTests;

/// <summary>One fact of every type with every member filled.</summary>
internal static class SampleFacts
{
    private static readonly DateTimeOffset At = new(2026, 3, 2, 8, 15, 30, TimeSpan.FromHours(1));
    private static readonly Guid Record = new("01890a5d-ac96-774b-bcce-b302099a8057");
    private static readonly UnitKey Unit = new(ItemNumber.Parse("FP-2"), SerialNumber.Parse("000123"));
    private static readonly UnitKey Drive = new(ItemNumber.Parse("DR-2"), SerialNumber.Parse("D0001"));
    private static readonly LotKey Lot = new(ItemNumber.Parse("ADH-1"), LotNumber.Parse("L77"));
    private static readonly BatchKey Batch = new(ItemNumber.Parse("DR-2"), BatchNumber.Parse("B-17"));
    private static readonly ContentHash Photo = ContentHash.Parse("e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
    private static readonly ContainmentId Case = ContainmentId.Parse("C-2026-03");
    private static readonly PersonCode Authoriser = PersonCode.Parse("P-9");
    private static readonly ItemNumber Product = ItemNumber.Parse("FP-2");
    private static readonly RulePolicy Flagged = new(Enforcement.Flag, CountsAsDefect: true);

    private static readonly Effectivity Coastal = new(
        [Variant("FP-2C")], [Name("SEAL-KIT")], SerialNumber.Parse("000100"), SerialNumber.Parse("000999"), At.AddDays(-10), At.AddDays(100));

    /// <summary>The samples.</summary>
    public static ImmutableArray<Fact> All { get; } = [.. new Fact[]
    {
        new UnitOpened(Unit, Variant("FP-2C"), [Name("SEAL-KIT")], LotNumber.Parse("L9")) { OccurredAt = At },
        new StepStarted(Unit, Step("COVER")) { OccurredAt = At },
        Completed(),
        new ComponentInstalled(Unit, Name("DRIVE"), Drive, Step("MARRY")) { OccurredAt = At },
        new ComponentRemoved(Unit, Name("DRIVE"), Drive, "Runs noisily") { OccurredAt = At },
        new UnitMovedToRevision(Unit, RevisionCode.Parse("B"), [Step("BOND"), Step("MARRY")], "Better seal", Authoriser) { OccurredAt = At },
        new UnitHeld(Unit, "Leak suspected") { OccurredAt = At },
        new UnitHoldLifted(Unit, "Leak test passed") { OccurredAt = At },
        new UnitReleased(Unit) { OccurredAt = At },
        new UnitScrapped(Unit, "Case cracked") { OccurredAt = At },
        new UnitShipped(Unit, "Consignee 17", "O-2026-004") { OccurredAt = At },
        new UnitReturned(Unit, "Stopped in the field") { OccurredAt = At },
        new NonconformanceReported(Unit, Step("COVER"), Name("SCRATCH"), "A scratch across the lens", [Photo]) { OccurredAt = At },
        new NonconformanceTakenUp(Unit, NonconformanceId.OfReport(Record), "Asked the customer") { OccurredAt = At },
        new NonconformanceDisposed(
            Unit, NonconformanceId.OfFinding(Record, "value-out-of-limits", "CLEARANCE"), Disposition.UseAsIs, [], new(Name("CO-7"), At.AddDays(30), 2), "Runs well within its flow", [Photo]) { OccurredAt = At },
        new RecordCorrected(Record, Completed() with { Station = StationCode.Parse("FINAL-2"), Person = PersonCode.Parse("P-18") }, "Wrong lot scanned", Authoriser) { OccurredAt = At },
        new RecordVoided(Record, "Posted for the wrong unit", Authoriser) { OccurredAt = At },
        new LotReceived(Lot, "S-5512", new(50.0m, "g"), At.AddDays(180), IsReleased: true, [StationCode.Parse("CASE-1")]) { OccurredAt = At },
        new LotReleased(Lot) { OccurredAt = At },
        new LotQuarantined(Lot, "Leak tests fail") { OccurredAt = At },
        new LotExpirySet(Lot, At.AddDays(30), "Retested") { OccurredAt = At },
        new LotMoved(Lot, [StationCode.Parse("CASE-2")]) { OccurredAt = At },
        new LotEmptied(Lot) { OccurredAt = At },
        new ContainerOpened(Lot, ContainerNumber.Parse("T3"), [StationCode.Parse("CASE-1")]) { OccurredAt = At },
        new ContainerEmptied(Lot, ContainerNumber.Parse("T3")) { OccurredAt = At },
        new LotSplit(Lot with { Lot = LotNumber.Parse("L77-A") }, new(Lot, new(10.0m, "g"), ContainerNumber.Parse("T3")), [StationCode.Parse("CASE-2")]) { OccurredAt = At },
        new LotMerged(Lot, [new(Lot with { Lot = LotNumber.Parse("L76") }, new(5.5m, "g"), null), new(Lot with { Lot = LotNumber.Parse("L75") }, null, ContainerNumber.Parse("T1"))], [StationCode.Parse("CASE-1")]) { OccurredAt = At },
        new LotInspected(Lot, Accepted: true, 3, [new(Name("VISCOSITY"), Passed: true, new(12.0m, "Pa.s")), new(Name("COLOUR"), Passed: false, null)], "C-5512", "Second sample") { OccurredAt = At },
        new LotRecertified(Lot, At.AddDays(270), "Report 2026-17", Authoriser) { OccurredAt = At },
        new StockCounted(Lot, ContainerNumber.Parse("T3"), new(31.2m, "g"), new(0.5m, "g"), new(1.0m, "g"), "Spilt") { OccurredAt = At },
        new ToolDefined(ToolNumber.Parse("SD-04"), Name("SCREWDRIVER"), "Driver with clutch", NeedsCalibration: true) { OccurredAt = At },
        new ToolCalibrated(ToolNumber.Parse("SD-04"), FoundGood: false, LeftGood: true, At.AddYears(1), "C-991") { OccurredAt = At },
        new ToolSettingVerified(ToolNumber.Parse("SD-04"), Name("5"), new(1.25m, "N.m"), At.AddDays(90)) { OccurredAt = At },
        new ToolChecked(ToolNumber.Parse("SD-04"), Name("5"), [new(1.21m, "N.m"), new(120.5m, "cN.m")], new(1.1m, "N.m"), new(1.3m, "N.m"), new(0.02m, "N.m")) { OccurredAt = At },
        new ToolStudied(ToolNumber.Parse("SD-04"), Name("5"), Name("HARD"), [new(1.21m, "N.m"), new(1.250m, "N.m")]) { OccurredAt = At },
        new ToolWithdrawn(ToolNumber.Parse("SD-04"), "Dropped") { OccurredAt = At },
        new ToolReinstated(ToolNumber.Parse("SD-04"), "Repaired and calibrated") { OccurredAt = At },
        new PersonDefined(PersonCode.Parse("P-17"), "Assembler 17") { OccurredAt = At },
        new QualificationGranted(PersonCode.Parse("P-17"), Name("BONDING"), At.AddYears(2)) { OccurredAt = At },
        new QualificationWithdrawn(PersonCode.Parse("P-17"), Name("BONDING"), "Not refreshed") { OccurredAt = At },
        new SiteDefined(SiteCode.Parse("ALDER"), "Works", "Europe/Lisbon") { OccurredAt = At },
        new StationDefined(StationCode.Parse("FINAL-1"), SiteCode.Parse("ALDER"), "Final assembly 1") { OccurredAt = At },
        new ItemDefined(Lot.Item, ItemKind.Consumable, "Instant adhesive", [Variant("FAST")], TimeSpan.FromDays(5)) { OccurredAt = At },
        new DefectCodeDefined(Name("LEAK"), "Loses pressure") { OccurredAt = At },
        new RoutingDrafted(Revision()) { OccurredAt = At },
        new RoutingReleased(Product, RevisionCode.Parse("B"), PersonCode.Parse("P-3")) { OccurredAt = At },
        new TemperatureRecorded(StationCode.Parse("OVEN-1"), [new(At.AddMinutes(-10), new(21.5m, "Cel")), new(At, new(70.70m, "[degF]"))]) { OccurredAt = At },
        new RoutingApproved(Product, RevisionCode.Parse("B"), PersonCode.Parse("P-4")) { OccurredAt = At },
        new TrainingCompleted(PersonCode.Parse("P-17"), Name("BOND-COURSE"), PersonCode.Parse("P-5"), "Test sheet 12", [Name("BONDING"), Name("POTTING")], At.AddYears(2)) { OccurredAt = At },
        new ReplacementDeclared(Product, Lot.Item, Product, [RevisionCode.Parse("B")], At.AddDays(3), "Same form, fit and function", PersonCode.Parse("P-4")) { OccurredAt = At },
        new ContainmentOpened(Case, "Gels late", "Tubes of the lot gel late", """{"kind":"lot","item":"ADH-1","lot":"L77"}""", "lot ADH-1/L77", HoldsLate: true) { OccurredAt = At },
        new ContainmentMembersFound(
            Case, 2, At, [new(Unit, ScopeVerdict.Possible, Place.Shipped, "COVER names lot ADH-1/L77 as one of several.", Record), new(Drive, null, Place.InProcess, null, null)]) { OccurredAt = At },
        new ContainmentScoped(Case, 2, At, IsComplete: false, 31, 1, 2, 3, ["1 units wait to be judged again."]) { OccurredAt = At },
        new ContainmentHoldsSet(Case, [Unit], [Drive]) { OccurredAt = At },
        new FollowUpRecorded(Case, [Unit, Drive], FollowUpOutcome.LeftWithConsignee, "Keeps it as a spare", [Record]) { OccurredAt = At },
        new ContainmentClosed(Case, "Every unit is accounted for") { OccurredAt = At },
        new ContainmentReopened(Case, "A unit came back") { OccurredAt = At },
        new LateMembersAcknowledged(Case, "Told the consignee") { OccurredAt = At },
        new LotMixed(Lot with { Lot = LotNumber.Parse("MIX-1") }, [new(Lot, new(10.0m, "g"), ContainerNumber.Parse("T3")), new(Lot with { Item = ItemNumber.Parse("HD-1") }, new(5.00m, "g"), null)], [StationCode.Parse("CASE-1")]) { OccurredAt = At },
        new BatchFormed(Batch, 24, LotNumber.Parse("L9")) { OccurredAt = At },
        new BatchStepStarted(Batch, Step("SOAK")) { OccurredAt = At },
        new BatchStepCompleted(
            Batch,
            Step("SOAK"),
            At.AddMinutes(-42),
            IsRework: true,
            [new(Name("OVEN-OUT"), At.AddMinutes(-2))],
            [new(Lot.Item, [Lot.Lot], ContainerNumber.Parse("T3"), new(0.40m, "g"), Name("GREASE"))],
            [new(ToolNumber.Parse("OV-1"), Name("120"), Name("OVEN"))],
            [new(Name("PEAK"), 119.50m, "Cel")],
            [new(Name("CLEAN"), Passed: true)],
            "Second soak") { OccurredAt = At },
        new BatchEnded(Batch, 1) { OccurredAt = At },
        new BatchSplit(new(Batch.Item, BatchNumber.Parse("B-18")), Batch.Batch, 8) { OccurredAt = At },
    }.Select(Dressed)];

    private static Fact Dressed(Fact fact) => fact with
    {
        Station = StationCode.Parse("FINAL-1"),
        Person = PersonCode.Parse("P-17"),
        SentBy = "terminal-final-1",
        Clock = new(TimeSpan.FromSeconds(-75), TimeSpan.FromSeconds(75), Doubtful: true),
    };

    private static StepCompleted Completed() => new(
        Unit,
        Step("COVER"),
        At.AddMinutes(-12),
        IsRework: true,
        [new(Name("OVEN-IN"), At.AddMinutes(-10)), new(Name("OVEN-OUT"), At.AddMinutes(-4))],
        [new(Lot.Item, [Lot.Lot, LotNumber.Parse("L78")], ContainerNumber.Parse("T3"), new(0.40m, "g"), Name("BOND"))],
        [new(ToolNumber.Parse("SD-04"), Name("5"), Name("DRIVER"))],
        [new(Name("TORQUE"), 1.210m, "N.m"), new(Name("OFFSET"), -0.0000000000000000000000000001m, "mm")],
        [new(Name("SEATED"), Passed: false)],
        [new(Name("DRIVE"), Drive)],
        [new(Name("LEAK"), 2, "At the seam, ≥ 2 bubbles \"per\" minute")],
        "Second attempt")
    {
        OccurredAt = At,
    };

    private static RoutingRevision Revision()
    {
        var bond = new Step(
            Step("BOND"),
            "Bond the sensor",
            Effectivity.Always,
            [],
            IsPointOfNoReturn: false,
            [],
            [],
            [],
            null,
            [new(Name("BORE"), "Bore depth", "mm", new(8.50m, []), new(8.73m, []), 0.01m, IsRequired: true, Flagged), new(Name("CLEAN"), "Surface clean", null, null, null, 0m, IsRequired: false, null)],
            [new(Name("ADHESIVE"), Lot.Item, [ItemNumber.Parse("ADH-2")], Tracing.Container, new(0.30m, "g"), new(0.50m, "g"), Coastal, Flagged)],
            [],
            [],
            null);
        var marry = new Step(
            Step("MARRY"),
            "Marry the drive",
            Coastal,
            [Step("BOND")],
            IsPointOfNoReturn: true,
            [Step("BOND")],
            ["Press straight: it can't be undone."],
            [StationCode.Parse("FINAL-1")],
            Name("FINAL-ASSEMBLY"),
            [new(Name("SHIM"), "Shim thickness", "mm", new(-0.05m, [new(1m, null, Step("BOND"), Name("BORE")), new(-1.0m, Name("DRIVE"), Step("BEARING"), Name("WIDTH"))]), new(0.05m, [new(1m, null, Step("BOND"), Name("BORE"))]), 0m, IsRequired: true, null)],
            [],
            [new(Name("DRIVE"), ItemNumber.Parse("DR-2"), [ItemNumber.Parse("DR-3")], Coastal, MustBeReleased: true, Flagged)],
            [new(Name("DRIVER"), Name("SCREWDRIVER"), Name("5"), new(1.1m, "N.m"), new(1.4m, "N.m"), Flagged)],
            Flagged);
        return new(
            Product,
            RevisionCode.Parse("B"),
            "Bearing dropped into a heated housing",
            Coastal,
            [bond, marry],
            [
                new(Name("CURE"), "Adhesive cure", new(Step("BOND"), MilestoneKind.Completed, null), new(Step("MARRY"), MilestoneKind.Started, null), TimeSpan.FromMinutes(8), TimeSpan.FromHours(26.5), Coastal, Flagged),
                new(Name("POT"), "Pot life", new(Step("BOND"), MilestoneKind.ContainerOpened, Name("ADHESIVE")), new(Step("BOND"), MilestoneKind.Mark, Name("OVEN-IN")), null, TimeSpan.FromSeconds(90.5), Effectivity.Always, null),
            ]);
    }

    private static Code Name(string text) => Code.Parse(text);

    private static StepCode Step(string text) => StepCode.Parse(text);

    private static VariantCode Variant(string text) => VariantCode.Parse(text);
}
