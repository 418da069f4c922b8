using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Domain.Primitives;
using Traceability.Service.Http;

namespace Traceability.Service.Features.Units;

/// <summary>Problems that the feature's endpoints share.</summary>
internal static class UnitProblems
{
    /// <summary>404: the unit was never opened.</summary>
    public static ProblemHttpResult Unknown(UnitKey unit) =>
        Refusal.At("unit-unknown", RefusalKind.Unknown, "serial", $"Unit {unit} is not known. Scan it again, or open it first.").ToProblem();
}
