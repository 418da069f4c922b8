using Traceability.Contracts.Yield;
using Traceability.Domain.Yield;
using Traceability.Service.Http;

namespace Traceability.Service.Features.Yield;

/// <summary>Turns counts into the figures of answers; the formulas are the domain's.</summary>
internal static class YieldFigures
{
    private const double Million = 1_000_000;

    /// <summary>The figures of steps.</summary>
    public static StepYieldFigures OfSteps(YieldCounter counts) => new(
        counts.FirstPassYield.ToShare(),
        counts.Attempts,
        counts.Reworks,
        counts.Retests,
        counts.ReworkedAttempts.ToShare(),
        counts.DefectsPerAttempt.ToRate(),
        counts.Opportunities == 0 ? FigureMapping.UndefinedRate(counts.Defects, Million) : counts.DefectsPerMillionOpportunities.ToRate());

    /// <summary>The figures of whole units.</summary>
    public static UnitYieldFigures OfUnits(YieldCounter counts) => new(counts.FirstPassYield.ToShare(), counts.ScrapRatio.ToShare());
}
