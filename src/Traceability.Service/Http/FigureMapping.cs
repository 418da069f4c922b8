using Traceability.Contracts.Facts;
using Traceability.Contracts.Figures;
using Traceability.Domain.Primitives;
using Traceability.Domain.Yield;

namespace Traceability.Service.Http;

/// <summary>Turns the domain's figures into those of answers.</summary>
internal static class FigureMapping
{
    /// <summary>A share with its counts and interval.</summary>
    public static Share ToShare(this Proportion p) => new(p.Numerator, p.Denominator, p.Estimate, p.Lower, p.Upper);

    /// <summary>A rate with its counts and interval.</summary>
    public static Rate ToRate(this EventRate rate) =>
        new(rate.Count, rate.Exposure, rate.Scale, rate.Estimate, rate.Interval?.Lower, rate.Interval?.Upper);

    /// <summary>A rate of events that had nothing to be counted in: their number is shown, the rate is undefined.</summary>
    public static Rate UndefinedRate(long count, double per) => new(count, 0, per, null, null, null);

    /// <summary>A unit's item and serial.</summary>
    public static UnitRef ToUnitRef(this UnitKey unit) => new() { Item = unit.Item.Value, Serial = unit.Serial.Value };
}
