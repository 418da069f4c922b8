namespace Traceability.Contracts;

/// <summary>What is wrong with a request: a problem document (RFC 9457, <c>application/problem+json</c>).</summary>
public sealed record Problem
{
    /// <summary>Identifies the kind of problem: <c>/problems/</c> and its code.</summary>
    public required string Type { get; init; }

    /// <summary>The kind of problem in a few words.</summary>
    public required string Title { get; init; }

    /// <summary>The HTTP status.</summary>
    public required int Status { get; init; }

    /// <summary>What is wrong here and what to do next, for a person.</summary>
    public string? Detail { get; init; }

    /// <summary>The stable code that a client branches on: <see cref="ProblemCodes"/>.</summary>
    public required string Code { get; init; }

    /// <summary>Every place that is wrong, where the problem has places.</summary>
    public IReadOnlyList<ProblemError>? Errors { get; init; }

    /// <summary>Under this id the service's traces and logs know the request.</summary>
    public string? TraceId { get; init; }
}

/// <summary>One place that is wrong.</summary>
public sealed record ProblemError
{
    /// <summary>Where: a JSON pointer (RFC 6901) into the body; empty for the whole.</summary>
    public required string Pointer { get; init; }

    /// <summary>What is wrong and what would be right, for a person.</summary>
    public required string Detail { get; init; }

    /// <summary>The line in a file that was sent, from 1; null for a body that is one fact.</summary>
    public int? Line { get; init; }

    /// <summary>The column in that line, from 1.</summary>
    public int? Column { get; init; }
}
