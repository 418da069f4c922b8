using System.Diagnostics;
using Microsoft.AspNetCore.Http.HttpResults;

namespace Traceability.Service.Http;

/// <summary>Makes problem documents (RFC 9457); every answer from 400 up is one.</summary>
internal static class Problems
{
    /// <summary>Media type of a problem document.</summary>
    public const string MediaType = "application/problem+json";

    /// <summary>A problem of the kind, with every place that is wrong.</summary>
    public static ProblemHttpResult Of(ProblemKind kind, string detail, params IEnumerable<ProblemPlace> errors) => TypedResults.Problem(
        detail: detail,
        statusCode: kind.Status,
        title: kind.Title,
        type: $"/problems/{kind.Code}",
        extensions: new Dictionary<string, object?>(StringComparer.Ordinal) { ["code"] = kind.Code, ["errors"] = errors.ToArray() });

    /// <summary>Answers the request with a problem; only possible before the answer has begun.</summary>
    public static Task WriteAsync(HttpContext context, ProblemKind kind, string detail, params IEnumerable<ProblemPlace> errors) =>
        Of(kind, detail, errors).ExecuteAsync(context);

    /// <summary>Gives each problem the trace id under which the service's traces and logs know the request.</summary>
    public static void AddTraceId(ProblemDetailsContext context)
    {
        var id = Activity.Current?.TraceId.ToHexString() ?? context.HttpContext.TraceIdentifier;
        context.ProblemDetails.Extensions["traceId"] = id;
    }
}
