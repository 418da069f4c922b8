namespace Traceability.Domain.Scope;

/// <summary>What rows of evidence say beyond their step and time, in words for the middle of a sentence.</summary>
public static class EvidenceWords
{
    /// <summary>A tool that was used.</summary>
    /// <param name="tool">The tool.</param>
    /// <param name="setting">The setting; null: not recorded.</param>
    public static string Tool(string tool, string? setting) => setting is null ? $"tool {tool} and no setting" : $"tool {tool} at setting {setting}";

    /// <summary>Work that was done.</summary>
    /// <param name="station">The station; null: not recorded.</param>
    /// <param name="person">The person; null: nobody is recorded.</param>
    /// <param name="revision">The revision; null: none applied.</param>
    public static string Work(string? station, string? person, string? revision) =>
        $"{(station is null ? "no station" : $"station {station}")}, {(person is null ? "nobody" : $"person {person}")} and {(revision is null ? "no revision" : $"revision {revision}")}";

    /// <summary>A value or a check.</summary>
    /// <param name="value">The value as entered; null for a check.</param>
    /// <param name="hasUncertainty">Whether an uncertainty is stated.</param>
    /// <param name="passed">Whether it passed; null: not judged or not shown.</param>
    public static string Measured(string? value, bool hasUncertainty, bool? passed)
    {
        var result = passed switch { true => "passed", false => "not passed", null => "neither passed nor not passed" };
        return value is null ? result : $"{value}{(hasUncertainty ? " with a stated uncertainty" : string.Empty)}, {result}";
    }

    /// <summary>How long an interval was.</summary>
    /// <param name="least">The least; null: not known.</param>
    /// <param name="most">The most; null: not known.</param>
    public static string Interval(TimeSpan? least, TimeSpan? most) => (least, most) switch
    {
        ({ } a, { } b) when a == b => $"lasted {ScopeWords.Duration(a)}",
        ({ } a, { } b) => $"lasted {ScopeWords.Duration(a)} to {ScopeWords.Duration(b)}",
        (null, { } b) => $"lasted {ScopeWords.Duration(b)} at the most",
        ({ } a, null) => $"lasted {ScopeWords.Duration(a)} at the least",
        _ => "lasted for a time that is not known",
    };
}
