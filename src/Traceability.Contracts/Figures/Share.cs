using System.Text.Json.Serialization;

namespace Traceability.Contracts.Figures;

/// <summary>A share that is never shown bare: its counts and a Wilson 95 % interval.</summary>
/// <param name="Numerator">How many; 0 to the denominator.</param>
/// <param name="Denominator">Out of how many. Zero makes the share undefined, which is not zero.</param>
/// <param name="Estimate">Numerator / denominator, 0 to 1 (a bare number, not per cent); null while undefined.</param>
/// <param name="Lower">Lower end of the Wilson score interval at 95 %, 0 to 1; null while undefined.</param>
/// <param name="Upper">Upper end; null while undefined.</param>
/// <remarks>
/// Estimate and limits are written as null while undefined, never left out.
/// Interval: NIST/SEMATECH e-Handbook of Statistical Methods, section 7.2.4.1, without continuity correction.
/// </remarks>
public sealed record Share(
    long Numerator,
    long Denominator,
    [property: JsonIgnore(Condition = JsonIgnoreCondition.Never)] double? Estimate,
    [property: JsonIgnore(Condition = JsonIgnoreCondition.Never)] double? Lower,
    [property: JsonIgnore(Condition = JsonIgnoreCondition.Never)] double? Upper);
