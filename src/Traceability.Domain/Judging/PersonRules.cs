using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;

namespace Traceability.Domain.Judging;

/// <summary>The person is qualified for the step at the time of the work, or is watched over by one who is where the step allows that.</summary>
internal static class PersonRules
{
    public static void Judge(UnitHistory history, Attempt attempt, FindingSink sink)
    {
        if (attempt.Step!.Qualification is not { } qualification)
        {
            return;
        }

        if (attempt.Record.Person is not { } code)
        {
            sink.Add(attempt, FindingKinds.PersonNotRecorded, qualification.ToString(), null, $"Nobody is named; step {attempt.Record.Step} asks for the qualification {qualification}.");
            return;
        }

        var person = history.References.FindPerson(code);
        if (person?.IsQualifiedAt(qualification, attempt.At) == true)
        {
            return;
        }

        if (attempt.Step.AllowsSupervised == true && person is not null && SupervisorOf(attempt) is { } supervisor && supervisor != code)
        {
            JudgeSupervisor(history, attempt, qualification, code, supervisor, sink);
            return;
        }

        sink.Add(
            attempt,
            FindingKinds.PersonNotQualified,
            qualification.ToString(),
            null,
            $"{code} was not qualified for {qualification} at that time.",
            ("person", code.ToString()),
            ("at", Say.Time(attempt.At)));
    }

    private static void JudgeSupervisor(UnitHistory history, Attempt attempt, Code qualification, PersonCode person, PersonCode supervisor, FindingSink sink)
    {
        if (history.References.FindPerson(supervisor)?.IsQualifiedAt(qualification, attempt.At) != true)
        {
            sink.Add(
                attempt,
                FindingKinds.SupervisorNotQualified,
                qualification.ToString(),
                null,
                $"{person} was not qualified for {qualification} at that time, nor was {supervisor}, who watched over the work.",
                ("person", person.ToString()),
                ("supervisor", supervisor.ToString()),
                ("at", Say.Time(attempt.At)));
        }
    }

    // Named with the completion, or else with the start of this attempt.
    private static PersonCode? SupervisorOf(Attempt attempt)
    {
        if (attempt.Record.Supervisor is { } named)
        {
            return named;
        }

        var starts = attempt.Track.Starts;
        var before = attempt.Track.Attempts.FindLast(a => a.Number < attempt.Number)?.At ?? DateTimeOffset.MinValue;
        for (var i = starts.Count - 1; i >= 0 && starts[i].At > before; i--)
        {
            if (starts[i].At <= attempt.At)
            {
                return ((StepStarted)starts[i].Fact).Supervisor;
            }
        }

        return null;
    }
}
