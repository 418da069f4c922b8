using System.Text.Json.Serialization;

namespace Traceability.Contracts.Figures;

/// <summary>Events per exposure, where one unit may have several: its counts and an exact Poisson 95 % interval.</summary>
/// <param name="Count">How many events.</param>
/// <param name="Exposure">In how many attempts or opportunities. Zero makes the rate undefined, which is not zero.</param>
/// <param name="Per">What the estimate and its limits are stated per: 1, or 1,000,000 opportunities.</param>
/// <param name="Estimate">Per × count / exposure; null while undefined.</param>
/// <param name="Lower">Lower end of the 95 % interval, in the estimate's unit; null while undefined.</param>
/// <param name="Upper">Upper end; null while undefined.</param>
/// <remarks>
/// Estimate and limits are written as null while undefined, never left out.
/// Interval: Garwood, Biometrika 28, 1936. It takes events as independent; defects that come in clusters vary more.
/// </remarks>
public sealed record Rate(
    long Count,
    long Exposure,
    double Per,
    [property: JsonIgnore(Condition = JsonIgnoreCondition.Never)] double? Estimate,
    [property: JsonIgnore(Condition = JsonIgnoreCondition.Never)] double? Lower,
    [property: JsonIgnore(Condition = JsonIgnoreCondition.Never)] double? Upper);
