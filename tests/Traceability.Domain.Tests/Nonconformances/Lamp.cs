using Traceability.Domain.Facts;
using Traceability.Domain.Items;
using Traceability.Domain.Nonconformances;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Domain.Tests.Nonconformances;

/// <summary>A sealed hand lamp: wired, sealed, closed for good and tested. P-9 may dispose of nonconformances, P-1 may not.</summary>
internal static class Lamp
{
    public static UnitKey Unit { get; } = Some.Unit("LAMP", "1");

    public static UnitStory Given => new UnitStory(Unit)
        .Routing(new RoutingBuilder("LAMP")
            .Step("WIRE", s => s.Check("POLARITY"))
            .Step("SEAL", s => s.After("WIRE").Measure("DEPTH", "mm", 2, 10))
            .Step("CLOSE", s => s.After("SEAL").PointOfNoReturn("WIRE", "SEAL"))
            .Step("LABEL")
            .Step("TEST", s => s.After("CLOSE").Check("LIT")))
        .Know(new DefectCodeDefined(Some.Code("CHIP"), "Chipped") { OccurredAt = Some.At(-9_000) })
        .Qualified("P-9", "DISPOSITION", validUntil: 5_000)
        .Qualified("P-1", "BONDING")
        .Open();

    public static UnitStory Wired(this UnitStory story, double at, bool passed = true, bool isRework = false) =>
        story.Done("WIRE", at, s => Reworked(s.Checked("POLARITY", passed), isRework));

    public static UnitStory Sealed(this UnitStory story, double at, decimal depth = 5, bool isRework = false) =>
        story.Done("SEAL", at, s => Reworked(s.Measured("DEPTH", depth, "mm"), isRework));

    public static UnitStory Tested(this UnitStory story, double at, bool passed = true, bool isRework = false) =>
        story.Done("TEST", at, s => Reworked(s.Checked("LIT", passed), isRework));

    public static UnitStory Reported(this UnitStory story, double at, string defect = "CHIP") =>
        story.Tell(new NonconformanceReported(Unit, Some.Step("SEAL"), Some.Code(defect), "A chip at the rim", []) { OccurredAt = Some.At(at), Person = Some.Person });

    public static UnitStory TakenUp(this UnitStory story, double at, NonconformanceId id) => story.Tell(TakeUp(id, at));

    public static UnitStory Disposed(this UnitStory story, double at, NonconformanceId id, Disposition disposition, Concession? concession = null, params string[] reopens) =>
        story.Tell(Dispose(id, disposition, at, concession, reopens));

    public static NonconformanceTakenUp TakeUp(NonconformanceId id, double at) => new(Unit, id, null) { OccurredAt = Some.At(at), Person = Some.Quality };

    public static NonconformanceDisposed Dispose(NonconformanceId id, Disposition disposition, double at, Concession? concession = null, params string[] reopens) =>
        new(Unit, id, disposition, [.. reopens.Select(Some.Step)], concession, "as discussed", []) { OccurredAt = Some.At(at), Person = Some.Quality };

    /// <summary>A concession that ends at neither time nor count within these stories.</summary>
    public static Concession Wide { get; } = new(Some.Code("C-1"), Some.At(10_000), 1_000);

    /// <summary>The nonconformance that rests on the fact told last.</summary>
    public static NonconformanceId Last(this UnitStory story, string kind, string rule) => NonconformanceId.OfFinding(story.LastId, kind, rule);

    /// <summary>The nonconformance with that id.</summary>
    public static Nonconformance Find(this UnitStory story, NonconformanceId id) => Assert.Single(story.Judgement.Nonconformances, n => n.Id == id);

    /// <summary>The code with which the fact is refused; null if it is recorded.</summary>
    public static Refusal? Check(this UnitStory story, Fact fact) => UnitDecisions.Check(story.ProductUnit, fact, story.References);

    private static StepRecord Reworked(StepRecord record, bool isRework) => isRework ? record.Rework() : record;
}
