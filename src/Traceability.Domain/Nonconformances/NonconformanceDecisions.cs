using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;

namespace Traceability.Domain.Nonconformances;

/// <summary>Decides whether a report of a nonconformance or a decision about one can be recorded.</summary>
/// <remarks>
/// A report always is, once the files that it names are stored. A decision is one of a person: refused are one about what is not
/// there or is at an end, and a disposition by someone who is not qualified for it.
/// </remarks>
public static class NonconformanceDecisions
{
    /// <summary>What the person who disposes of a nonconformance must be qualified for at that time.</summary>
    public static Code Qualification { get; } = Code.Parse("DISPOSITION");

    /// <summary>The refusal, or null: record it. Any other fact passes.</summary>
    public static Refusal? Check(ProductUnit unit, Fact fact, IReferences references)
    {
        ArgumentNullException.ThrowIfNull(unit);
        ArgumentNullException.ThrowIfNull(references);
        return fact switch
        {
            NonconformanceReported report => CheckAttachments(report, references, string.Empty),
            NonconformanceTakenUp taken => CheckState(unit, taken, references),
            NonconformanceDisposed disposed => CheckContent(unit, disposed, references, string.Empty) ?? CheckState(unit, disposed, references),
            RecordCorrected { Replacement: NonconformanceReported report } => CheckAttachments(report, references, "/replacement"),
            RecordCorrected { Replacement: NonconformanceDisposed disposed } => CheckContent(unit, disposed, references, "/replacement"),
            _ => null,
        };
    }

    // Whatever the state of the nonconformance.
    private static Refusal? CheckContent(ProductUnit unit, NonconformanceDisposed decision, IReferences references, string at)
    {
        if (CheckPerson(decision, references, at) is { } refusal)
        {
            return refusal;
        }

        var history = UnitHistory.Of(unit, references);
        for (var i = 0; i < decision.Reopens.OrEmpty().Length; i++)
        {
            var step = decision.Reopens[i];
            if (history.Current.Revision?.IndexOf(step) is not { } index || index < 0 || !history.Current.HasStep(history, index))
            {
                return Refusal.At("step-not-in-routing", RefusalKind.Unknown, $"{at}/reopens/{i}", $"Step {step} is not a step of this unit in the revision that is effective for it. Name steps that it has.");
            }
        }

        return CheckAttachments(decision, references, at);
    }

    private static Refusal? CheckPerson(NonconformanceDisposed decision, IReferences references, string at)
    {
        if (decision.Person is not { } code)
        {
            return Refusal.At("person-missing", RefusalKind.Malformed, $"{at}/person", "A disposition is a person's decision: name the person.");
        }

        if (references.FindPerson(code) is not { } person)
        {
            return Refusal.At("person-unknown", RefusalKind.Unknown, $"{at}/person", $"Person {code} is not known. Define the person first, or correct the code.");
        }

        return person.IsQualifiedAt(Qualification, decision.At)
            ? null
            : Refusal.At("person-not-qualified", RefusalKind.Unauthorised, $"{at}/person", $"{code} was not qualified for {Qualification} at that time. Let someone decide who is.");
    }

    private static Refusal? CheckAttachments(INamesAttachments fact, IReferences references, string at)
    {
        for (var i = 0; i < fact.Attachments.OrEmpty().Length; i++)
        {
            if (!references.IsAttachmentKnown(fact.Attachments[i]))
            {
                return Refusal.At("attachment-unknown", RefusalKind.Unknown, $"{at}/attachments/{i}", $"No file with the hash {fact.Attachments[i]} is stored. Upload it first.");
            }
        }

        return null;
    }

    private static Refusal? CheckState(ProductUnit unit, INonconformanceDecision decision, IReferences references)
    {
        const string pointer = "/nonconformance";
        if (Judge.Unit(unit, references).Nonconformances.FirstOrDefault(n => n.Id == decision.Nonconformance) is not { } known)
        {
            return Refusal.At("nonconformance-unknown", RefusalKind.Unknown, pointer, $"Unit {unit.Key} has no nonconformance {decision.Nonconformance}. Take its id from the list of the unit's nonconformances.");
        }

        return (known.State, decision) switch
        {
            (NonconformanceState.Moot, _) => Refusal.At(
                "nonconformance-moot", RefusalKind.Contradiction, pointer, "What this nonconformance rested on is not there any more, so there is nothing to decide."),
            (NonconformanceState.Closed, _) => Refusal.At(
                "nonconformance-closed", RefusalKind.Contradiction, pointer, "This nonconformance is closed. To decide anew, void the fact that closed it, or report another one."),
            (NonconformanceState.Disposed, NonconformanceTakenUp) => Refusal.At(
                "nonconformance-disposed", RefusalKind.Contradiction, pointer, "This nonconformance is decided. To decide otherwise, record another disposition, or void this one."),
            (NonconformanceState.UnderDecision, NonconformanceTakenUp) => Refusal.At(
                "nonconformance-taken-up", RefusalKind.Contradiction, pointer, "This nonconformance is taken up already. Record its disposition."),
            (_, NonconformanceDisposed { Disposition: Disposition.UseAsIs, Concession.Until: { } until }) when known.At >= until => Refusal.At(
                "concession-not-covering", RefusalKind.Contradiction, "/concession/until", "The concession ends before what it is given for happened. Give it a later end."),
            _ => null,
        };
    }
}
