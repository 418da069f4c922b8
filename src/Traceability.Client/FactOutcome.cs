using Traceability.Contracts;

namespace Traceability.Client;

/// <summary>What became of one fact that was sent.</summary>
public abstract record FactOutcome
{
    private FactOutcome()
    {
    }

    /// <summary>It is recorded, durably, now or before (<see cref="FactReceipt.IsRepeat"/>).</summary>
    /// <param name="Receipt">The receipt, with the findings that it raised.</param>
    public sealed record Recorded(FactReceipt Receipt) : FactOutcome;

    /// <summary>It is refused: sending the same again gives the same answer, until what it lacks is there.</summary>
    /// <param name="Problem">Why, with every place that is wrong.</param>
    public sealed record Refused(Problem Problem) : FactOutcome
    {
        /// <summary>Gets whether it names something that is not known yet, and may be taken once that has arrived.</summary>
        public bool IsUnknown => Problem.Status == 404;
    }

    /// <summary>The service can't say: it may or may not be recorded. Send it again, with the same id.</summary>
    /// <param name="Problem">What the service said.</param>
    public sealed record Later(Problem Problem) : FactOutcome;
}
