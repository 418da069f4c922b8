namespace Traceability.Domain.Judging;

/// <summary>The person is qualified for the step at the time of the work.</summary>
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
        }
        else if (history.References.FindPerson(code)?.IsQualifiedAt(qualification, attempt.At) != true)
        {
            sink.Add(
                attempt,
                FindingKinds.PersonNotQualified,
                qualification.ToString(),
                null,
                $"{code} was not qualified for {qualification} at that time.",
                ("person", code.ToString()),
                ("at", Say.Time(attempt.At)));
        }
    }
}
