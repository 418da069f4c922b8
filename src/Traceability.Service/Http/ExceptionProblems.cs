using System.Globalization;
using System.Text.Json;
using System.Text.RegularExpressions;
using Microsoft.AspNetCore.Diagnostics;
using Npgsql;

namespace Traceability.Service.Http;

/// <summary>Turns what endpoints throw into problem documents. What nobody foresaw is logged once, and its text is not shown.</summary>
internal sealed partial class ExceptionProblems(ILogger<ExceptionProblems> logger) : IExceptionHandler
{
    /// <summary>After how long a sender should try again when the database can't be reached.</summary>
    private static readonly TimeSpan RetryAfter = TimeSpan.FromSeconds(2);

    /// <inheritdoc />
    public async ValueTask<bool> TryHandleAsync(HttpContext httpContext, Exception exception, CancellationToken cancellationToken)
    {
        switch (exception)
        {
            case BadHttpRequestException { StatusCode: StatusCodes.Status400BadRequest, InnerException: JsonException json }:
                await Problems.WriteAsync(httpContext, ProblemKind.BodyMalformed, "The body is not the JSON that this address takes.", Place(json));
                return true;
            case BadHttpRequestException { StatusCode: StatusCodes.Status400BadRequest } unbound when Unbound().Match(unbound.Message) is { Success: true } parameter:
                await WriteUnboundAsync(httpContext, parameter.Groups["name"].Value, parameter.Groups["source"].Value);
                return true;
            case BadHttpRequestException bad:
                await WriteAsync(httpContext, bad);
                return true;
            case IOException { InnerException: OverflowException } unreadable:
                // The server library's word for a chunk's size that no number holds; other bad sizes come as a bad request.
                await Problems.WriteAsync(httpContext, ProblemKind.RequestMalformed, unreadable.Message);
                return true;
            case NpgsqlException { IsTransient: true } or PostgresException { SqlState: PostgresErrorCodes.AdminShutdown or PostgresErrorCodes.CannotConnectNow }:
                LogStore(logger, exception);
                httpContext.Response.Headers.RetryAfter = ((int)RetryAfter.TotalSeconds).ToString(CultureInfo.InvariantCulture);
                await Problems.WriteAsync(httpContext, ProblemKind.StoreUnavailable, "The database can't be reached at the moment. Send the same again; nothing counts twice.");
                return true;
            default:
                LogUnexpected(logger, exception, httpContext.Request.Method, httpContext.GetEndpoint()?.DisplayName);
                await Problems.WriteAsync(httpContext, ProblemKind.Unexpected, "Nothing that was not acknowledged is recorded. Tell whoever runs the service the trace id.");
                return true;
        }
    }

    /// <summary>Answers a request that the server could not read.</summary>
    public static Task WriteAsync(HttpContext context, BadHttpRequestException bad)
    {
        var kind = ProblemKind.OfStatus(bad.StatusCode, isRouted: true);
        return Problems.WriteAsync(context, kind, Detail(kind, bad, context));
    }

    /// <summary>The framework's own sentence names types of the code; ours names what the sender sent.</summary>
    private static Task WriteUnboundAsync(HttpContext context, string name, string source) => source == "body"
        ? Problems.WriteAsync(context, ProblemKind.BodyMalformed, "The body is empty.", new ProblemPlace(string.Empty, "A JSON object is expected; /docs shows its form."))
        : Problems.WriteAsync(context, ProblemKind.RequestMalformed, "A value in the address can't be read.", new ProblemPlace(name, $"The value of {name} is missing or does not have its form; /docs shows it."));

    // "Failed to bind parameter "T name" from "value".", "Required parameter "T name" was not provided from route or query string.";
    // a body that is not there: "Implicit body inferred for parameter "name" but no body was provided. ...", "... was not provided from body."
    [GeneratedRegex("""parameter "(?:[^"]+ )?(?<name>\w+)" (?:was not provided from |but no |from )?(?<source>\w*)""", RegexOptions.ExplicitCapture, matchTimeoutMilliseconds: 100)]
    private static partial Regex Unbound();

    private static string Detail(ProblemKind kind, BadHttpRequestException bad, HttpContext context) => kind == ProblemKind.BodyTooLarge
        ? BodyLimit.Explain(context)
        : bad.Message;

    /// <summary>The place of a JSON fault. Its path is JSONPath-like ("$.unit.item", "$.checks[0]"), ours is a JSON pointer (RFC 6901).</summary>
    private static ProblemPlace Place(JsonException exception)
    {
        var path = exception.Path ?? "$";
        var pointer = JsonPointers.FromPath(path);
        var place = exception.LineNumber is { } line
            ? string.Create(CultureInfo.InvariantCulture, $" Line {line + 1}, byte {exception.BytePositionInLine + 1}.")
            : string.Empty;
        var reason = exception.InnerException is FormatException form ? form.Message : Shorten(exception.Message);
        return new(pointer, reason + place);
    }

    // The library ends its messages with its own path and line, which are given in our form.
    private static string Shorten(string message)
    {
        var end = message.IndexOf(" Path: ", StringComparison.Ordinal);
        return end < 0 ? message : message[..end];
    }

    [LoggerMessage(1, LogLevel.Error, "{Method} {Endpoint} failed")]
    private static partial void LogUnexpected(ILogger logger, Exception exception, string method, string? endpoint);

    [LoggerMessage(2, LogLevel.Warning, "The database can't be reached")]
    private static partial void LogStore(ILogger logger, Exception exception);
}
