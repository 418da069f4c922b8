using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;

namespace Traceability.Domain.Nonconformances;

/// <summary>A decision of a person about one nonconformance of a unit.</summary>
public interface INonconformanceDecision : IUnitFact
{
    /// <summary>The nonconformance.</summary>
    NonconformanceId Nonconformance { get; }
}

/// <summary>A fact that names stored files.</summary>
public interface INamesAttachments
{
    /// <summary>The files, by their content.</summary>
    ImmutableArray<ContentHash> Attachments { get; }
}

/// <summary>What is to become of a unit that does not conform.</summary>
/// <remarks>The terms are those of ISO 9000:2015, 3.12: rework (3.12.8), repair (3.12.9), concession (3.12.5), scrap (3.12.10).</remarks>
public enum Disposition
{
    /// <summary>Named steps are done again, so that it conforms.</summary>
    Rework,

    /// <summary>Named steps are done again, so that it can be used though it may not conform.</summary>
    Repair,

    /// <summary>It is used as it is, under a concession.</summary>
    UseAsIs,

    /// <summary>It is scrapped.</summary>
    Scrap,

    /// <summary>It goes back to its supplier.</summary>
    ReturnToSupplier,
}

/// <summary>The permission to use something that does not conform, within limits: on this unit, for this rule or defect, and for so long or so often.</summary>
/// <param name="Number">The number that it is filed under.</param>
/// <param name="Until">It covers what happened before this time; null: its count is its limit.</param>
/// <param name="CountMax">It covers this many nonconformances of the kind, the one that it was given for being the first; null: its time is its limit.</param>
public sealed record Concession(Code Number, DateTimeOffset? Until, int? CountMax);

/// <summary>A person saw that a unit does not conform. The nonconformance has the id of this fact.</summary>
/// <param name="Unit">The unit.</param>
/// <param name="Step">Where it was seen or made, if that is known.</param>
/// <param name="Defect">The defect code.</param>
/// <param name="Description">What was seen, in words.</param>
/// <param name="Attachments">Photos and files that show it.</param>
public sealed record NonconformanceReported(
    UnitKey Unit, StepCode? Step, Code Defect, string Description, ImmutableArray<ContentHash> Attachments) : Fact, IUnitFact, INamesAttachments;

/// <summary>A person began to decide about a nonconformance. From here on nothing but a disposition settles it.</summary>
public sealed record NonconformanceTakenUp(UnitKey Unit, NonconformanceId Nonconformance, string? Note) : Fact, INonconformanceDecision;

/// <summary>A person decided what is to become of the unit for this nonconformance. The last decision counts.</summary>
/// <param name="Unit">The unit.</param>
/// <param name="Nonconformance">The nonconformance.</param>
/// <param name="Disposition">What is to become of it.</param>
/// <param name="Reopens">With rework and repair: the steps that are to be done again, marked as rework.</param>
/// <param name="Concession">With use-as-is: its limits.</param>
/// <param name="Reason">Why, in words.</param>
/// <param name="Attachments">Photos and files that it rests on.</param>
public sealed record NonconformanceDisposed(
    UnitKey Unit,
    NonconformanceId Nonconformance,
    Disposition Disposition,
    ImmutableArray<StepCode> Reopens,
    Concession? Concession,
    string Reason,
    ImmutableArray<ContentHash> Attachments) : Fact, INonconformanceDecision, INamesAttachments;
