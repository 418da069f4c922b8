using Microsoft.AspNetCore.Http.HttpResults;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Http;

/// <summary>The one place where refusals become problem documents (RFC 9457).</summary>
internal static class RefusalProblems
{
    /// <summary>The status of a refusal: 400 malformed, 403 not allowed, 404 unknown, 409 contradiction.</summary>
    public static int Status(RefusalKind kind) => kind switch
    {
        RefusalKind.Malformed => StatusCodes.Status400BadRequest,
        RefusalKind.Unauthorised => StatusCodes.Status403Forbidden,
        RefusalKind.Unknown => StatusCodes.Status404NotFound,
        RefusalKind.Contradiction => StatusCodes.Status409Conflict,
        _ => throw new ArgumentOutOfRangeException(nameof(kind)),
    };

    /// <summary>A problem document with the refusal's code and every fault's place.</summary>
    public static ProblemHttpResult ToProblem(this Refusal refusal) => TypedResults.Problem(
        detail: refusal.Detail,
        statusCode: Status(refusal.Kind),
        title: Title(refusal.Kind),
        type: $"/problems/{refusal.Code}",
        extensions: new Dictionary<string, object?>(StringComparer.Ordinal)
        {
            ["code"] = refusal.Code,
            ["errors"] = refusal.Faults.Select(f => new ProblemPlace(f.Pointer, f.Detail)).ToArray(),
        });

    /// <summary>What the kind of refusal means.</summary>
    public static string Title(RefusalKind kind) => kind switch
    {
        RefusalKind.Malformed => "What was sent can't be read.",
        RefusalKind.Unauthorised => "The key, or the person who decides, may not do this.",
        RefusalKind.Unknown => "It names something that is not known.",
        RefusalKind.Contradiction => "It would contradict what is already recorded.",
        _ => throw new ArgumentOutOfRangeException(nameof(kind)),
    };
}

/// <summary>One place that is wrong.</summary>
/// <param name="Pointer">JSON pointer (RFC 6901) into the body; for a query or path value, its name.</param>
/// <param name="Detail">What is wrong and what would be right.</param>
internal sealed record ProblemPlace(string Pointer, string Detail);
