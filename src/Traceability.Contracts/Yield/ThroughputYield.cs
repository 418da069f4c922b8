using System.Text.Json.Serialization;
using Traceability.Contracts.Figures;

namespace Traceability.Contracts.Yield;

/// <summary>Rolled throughput yield (ISO 13053-1): the product of the first-pass yields of a routing's steps over a period.</summary>
/// <param name="Item">The item.</param>
/// <param name="Variant">Only units of this variant, and only the steps that it has; null: all units, and every step of the routing.</param>
/// <param name="Revision">The routing revision whose steps are multiplied; null where the item has no released one.</param>
/// <param name="CountsOtherRevisions">Whether attempts that were judged by other revisions count too: true unless a revision was asked for.</param>
/// <param name="From">The first day, in the calendar of the station's site.</param>
/// <param name="To">The last day, included.</param>
/// <param name="AsOf">When the answer was taken (RFC 3339, UTC): it holds every fact that was acknowledged before.</param>
/// <param name="Pending">How many changes that are not yet folded into the day counters were summed on the fly. For information: the answer holds them.</param>
/// <param name="RolledThroughputYield">The product, with an approximate interval; undefined while a step is, or without steps.</param>
/// <param name="Steps">The factors, in the routing's order.</param>
/// <param name="UndefinedSteps">The steps without a first attempt in the period: while there is one, the product is undefined.</param>
/// <param name="Completeness">What may be missing from it.</param>
public sealed record ThroughputYield(
    string Item,
    string? Variant,
    string? Revision,
    bool CountsOtherRevisions,
    DateOnly From,
    DateOnly To,
    DateTimeOffset AsOf,
    long Pending,
    RolledYield RolledThroughputYield,
    IReadOnlyList<ThroughputStep> Steps,
    IReadOnlyList<string> UndefinedSteps,
    Completeness Completeness);

/// <summary>A product of shares. Its counts are those of its factors.</summary>
/// <param name="Estimate">The product, 0 to 1; null while undefined.</param>
/// <param name="Lower">Lower end of an approximate 95 % interval (Wilson's at the effective sample size, steps taken as independent); null while undefined.</param>
/// <param name="Upper">Upper end; null while undefined.</param>
public sealed record RolledYield(
    [property: JsonIgnore(Condition = JsonIgnoreCondition.Never)] double? Estimate,
    [property: JsonIgnore(Condition = JsonIgnoreCondition.Never)] double? Lower,
    [property: JsonIgnore(Condition = JsonIgnoreCondition.Never)] double? Upper);

/// <summary>One factor.</summary>
/// <param name="Step">The step.</param>
/// <param name="Name">What is done, in words.</param>
/// <param name="IsConditional">Whether only some of the units asked about have the step (by variant, option, serial or date).</param>
/// <param name="FirstPassYield">The step's first-pass yield.</param>
public sealed record ThroughputStep(string Step, string Name, bool IsConditional, Share FirstPassYield);
