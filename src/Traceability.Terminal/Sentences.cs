using System.Globalization;
using Traceability.Client.Outbox;
using Traceability.Contracts;

namespace Traceability.Terminal;

/// <summary>What is said to a person.</summary>
internal static class Sentences
{
    public static string Of(OutboxDamage damage) => FormattableString.Invariant(
        $"""
        {string.Join(' ', damage.Reasons)}
        Saved: {damage.Salvaged} facts, and {damage.SalvagedAsWaiting} whose state was lost and which wait again. Gone: at least {damage.Missing}.
        The damaged files are kept: {string.Join(", ", damage.MovedTo)}
        Compare with what the shift remembers, then say: traceability-terminal damage-seen --by CODE
        """);

    public static string Of(Problem problem)
    {
        var faults = (problem.Errors ?? []).Select(e => e.Pointer.Length == 0 ? $"  - {e.Detail}" : $"  - {e.Pointer}: {e.Detail}");
        return string.Join('\n', faults.Prepend($"{problem.Detail ?? problem.Title} ({problem.Code})"));
    }

    public static string Of(Finding finding) =>
        $"{(finding.CountsAsDefect ? "defect" : "finding")} {finding.Kind}{(finding.Rule.Length > 0 ? " " + finding.Rule : string.Empty)}: {finding.Message}";

    public static string Ago(TimeSpan age) => age switch
    {
        { TotalMinutes: < 1 } => "under a minute",
        { TotalHours: < 1 } => string.Create(CultureInfo.InvariantCulture, $"{(int)age.TotalMinutes} min"),
        { TotalDays: < 1 } => string.Create(CultureInfo.InvariantCulture, $"{(int)age.TotalHours} h {age.Minutes} min"),
        _ => string.Create(CultureInfo.InvariantCulture, $"{(int)age.TotalDays} d {age.Hours} h"),
    };

    public static string Time(DateTimeOffset? at) => at?.ToString("yyyy-MM-dd HH:mm:sszzz", CultureInfo.InvariantCulture) ?? string.Empty;
}
