using System.Globalization;
using Traceability.Contracts;

namespace Traceability.Client;

/// <summary>The service answered with a problem (RFC 9457).</summary>
public sealed class TraceabilityProblemException : Exception
{
    /// <summary>Makes it of the problem.</summary>
    /// <param name="problem">What the service said; every fault is in its errors.</param>
    /// <param name="retryAfter">When the service wants to be asked again, if it said so.</param>
    public TraceabilityProblemException(Problem problem, TimeSpan? retryAfter = null)
        : base(Sentence(problem))
    {
        Problem = problem;
        RetryAfter = retryAfter;
    }

    /// <summary>Gets what the service said.</summary>
    public Problem Problem { get; }

    /// <summary>Gets the stable code: one of <see cref="ProblemCodes"/>.</summary>
    public string Code => Problem.Code;

    /// <summary>Gets the HTTP status.</summary>
    public int Status => Problem.Status;

    /// <summary>Gets after what time the service wants to be asked again; null if it did not say.</summary>
    public TimeSpan? RetryAfter { get; }

    private static string Sentence(Problem problem)
    {
        ArgumentNullException.ThrowIfNull(problem);
        var faults = (problem.Errors ?? []).Select(e => e.Pointer.Length == 0 ? e.Detail : $"{e.Pointer}: {e.Detail}");
        return string.Join(' ', faults.Prepend(string.Create(CultureInfo.InvariantCulture, $"{problem.Detail ?? problem.Title} ({problem.Code}, {problem.Status})")));
    }
}

/// <summary>The service gave no answer that can be relied on: whether a fact that was sent is recorded is not known.</summary>
public sealed class TraceabilityUnreachableException : Exception
{
    /// <summary>Makes it of what happened.</summary>
    /// <param name="message">What happened.</param>
    /// <param name="cause">The cause.</param>
    /// <param name="isCircuitOpen">Whether nothing was sent since the circuit is open.</param>
    /// <param name="retryAfter">After what time it makes sense to try again, where it is known.</param>
    public TraceabilityUnreachableException(string message, Exception? cause = null, bool isCircuitOpen = false, TimeSpan? retryAfter = null)
        : base(message, cause)
    {
        IsCircuitOpen = isCircuitOpen;
        RetryAfter = retryAfter;
    }

    /// <summary>Gets whether nothing was sent, since earlier tries failed and the circuit is open.</summary>
    public bool IsCircuitOpen { get; }

    /// <summary>Gets after what time it makes sense to try again; null if that isn't known.</summary>
    public TimeSpan? RetryAfter { get; }
}
