using Traceability.Domain.Containments;
using Traceability.Domain.Nonconformances;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Domain.Routings;

namespace Traceability.Domain.Facts;

/// <summary>Decides whether a correction or a void can be recorded: it must name a record of the stream, in kind.</summary>
public static class CorrectionDecisions
{
    /// <summary>The refusal, or null: record it.</summary>
    /// <param name="facts">The facts of the stream that the named record is in; empty if no such record is known.</param>
    /// <param name="fact">The correction or void; any other fact passes.</param>
    public static Refusal? Check(ImmutableArray<RecordedFact> facts, Fact fact)
    {
        Guid? record = fact switch
        {
            RecordCorrected c => c.Record,
            RecordVoided v => v.Record,
            _ => null,
        };
        if (record is not { } id)
        {
            return null;
        }

        if (facts.FirstOrDefault(f => f.Id == id)?.Fact is not { } named)
        {
            return Refusal.At("record-unknown", RefusalKind.Unknown, "/record", $"No record {id} is known. Send the record first, or correct the id.");
        }

        if (named is IFoundByService)
        {
            return Refusal.At(
                "record-not-correctable", RefusalKind.Contradiction, "/record", "What the service recorded of a containment can't be corrected or voided. Correct the record that it was found by; the next run tells the difference.");
        }

        return CheckRouting(facts, named) ?? (fact is RecordCorrected correction ? CheckReplacement(named, correction.Replacement) : null);
    }

    /// <summary>The correction with its replacement's clock: a time that was only copied is read off the same clock as before.</summary>
    public static Fact WithClock(ImmutableArray<RecordedFact> facts, Fact fact)
    {
        if (fact is not RecordCorrected correction || facts.FirstOrDefault(f => f.Id == correction.Record)?.Fact is not { } named)
        {
            return fact;
        }

        var clock = correction.Replacement.OccurredAt == named.OccurredAt ? named.Clock : correction.Clock;
        return correction with { Replacement = correction.Replacement with { Clock = clock } };
    }

    // What was released is the draft as it was when its release arrived; a draft that isn't released yet is drafted anew.
    private static Refusal? CheckRouting(ImmutableArray<RecordedFact> facts, Fact named) => named switch
    {
        RoutingReleased released => Refusal.At(
            "revision-released", RefusalKind.Contradiction, "/record", $"Revision {released.Revision} of {released.Item} is released, and units are judged by it, so its release can't be corrected or voided. Release the next revision."),
        RoutingDrafted { Revision: var drafted } when Routing.Of(drafted.Item, facts).FindReleased(drafted.Revision) is not null => Refusal.At(
            "revision-released", RefusalKind.Contradiction, "/record", $"Revision {drafted.Revision} of {drafted.Item} is released, so its draft can't be corrected or voided: units are judged by what was released. Draft the next revision."),
        RoutingDrafted => Refusal.At(
            "record-not-correctable", RefusalKind.Contradiction, "/record", "A draft isn't corrected or voided. Record routing-drafted with the same revision again, which takes its place; a draft that is never released has no effect."),
        _ => null,
    };

    private static Refusal? CheckReplacement(Fact named, Fact replacement)
    {
        if (named is RecordCorrected or RecordVoided)
        {
            return Refusal.At(
                "record-not-correctable", RefusalKind.Contradiction, "/record", "A correction can't be corrected. Void it, and correct the first record anew.");
        }

        if (named is RoutingApproved)
        {
            return Refusal.At(
                "record-not-correctable", RefusalKind.Contradiction, "/record", "An approval can't be corrected, since it is a person's word. Void it, and have the draft approved anew.");
        }

        if (named is UnitReleased { Signature: not null })
        {
            return Refusal.At(
                "record-not-correctable", RefusalKind.Contradiction, "/record", "A signed release can't be corrected, since the signature is under what was signed. Void it, and release the unit anew.");
        }

        if (named.GetType() != replacement.GetType() && named is not UnreadableFact)
        {
            return Refusal.At(
                "replacement-of-other-kind", RefusalKind.Contradiction, "/replacement/type", "The replacement must be of the same type as the record that it corrects.");
        }

        if (named is INonconformanceDecision decided && replacement is INonconformanceDecision other && decided.Nonconformance != other.Nonconformance)
        {
            return Refusal.At(
                "replacement-of-other-subject",
                RefusalKind.Contradiction,
                "/replacement/nonconformance",
                "The replacement must be about the same nonconformance. To decide about another one, void this decision and record the other.");
        }

        if (named is not UnreadableFact && StreamNames.Of(named) != StreamNames.Of(replacement))
        {
            return Refusal.At(
                "replacement-of-other-subject",
                RefusalKind.Contradiction,
                "/replacement",
                "The replacement must be about the same unit, lot, tool or person. To move a record to another one, void it here and record it there.");
        }

        return named is StepCompleted a && replacement is StepCompleted b && a.Step != b.Step
            ? Refusal.At("replacement-of-other-step", RefusalKind.Contradiction, "/replacement/step", "The replacement must be about the same step. To move a record to another step, void it and record the other one.")
            : null;
    }
}
