using System.Collections.Immutable;
using Traceability.Domain.Facts;
using Traceability.Domain.Items;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.Routings;
using Traceability.Domain.Sites;
using Traceability.Testing.Building;

namespace Traceability.Service.Tests.Reading;

/// <summary>Short ways to write judgements and definitions.</summary>
internal static class Judged
{
    private static readonly RulePolicy StopDefect = new(Enforcement.Stop, CountsAsDefect: true);

    /// <summary>A unit of FP-2 with these results.</summary>
    public static UnitJudgement Unit(
        string serial, IEnumerable<StepResult>? steps = null, IEnumerable<Finding>? findings = null, IEnumerable<OpenInterval>? open = null, string? variant = null, string? revision = "A", string item = "FP-2") => new(
        Some.Unit(item, serial),
        new(
            variant is null ? null : VariantCode.Parse(variant),
            [],
            null,
            Some.Noon,
            revision is null ? null : RevisionCode.Parse(revision),
            Place.InProcess,
            null,
            Some.Noon,
            null,
            null,
            null,
            PassedFirstTime: false,
            HasUnreadable: false),
        [.. steps ?? []],
        [.. findings ?? []],
        [.. open ?? []],
        [],
        [],
        []);

    /// <summary>The unit, ended on a day.</summary>
    public static UnitJudgement Ended(this UnitJudgement unit, DateOnly day, bool passed, bool scrapped = false) => unit with
    {
        Status = unit.Status with
        {
            EndedAt = new DateTimeOffset(day, new TimeOnly(12, 0), TimeSpan.Zero),
            EndedDay = day,
            PassedFirstTime = passed,
            Place = scrapped ? Place.Scrapped : Place.InStock,
        },
    };

    /// <summary>One attempt.</summary>
    public static StepResult Step(
        string step, DateOnly day, int attempt = 1, bool passed = true, bool rework = false, int? defects = null, int opportunities = 4, string? station = "ST-1", string? revision = "A") => new(
        StepCode.Parse(step),
        attempt,
        Some.Id(attempt),
        revision is null ? null : RevisionCode.Parse(revision),
        null,
        new DateTimeOffset(day, new TimeOnly(12, 0), TimeSpan.Zero),
        day,
        station is null ? null : StationCode.Parse(station),
        null,
        rework,
        passed,
        defects ?? (passed ? 0 : 1),
        opportunities);

    /// <summary>A finding that counts as a defect unless told.</summary>
    public static Finding Finding(
        string kind, double minutes, string rule = "R", string step = "BOND", int record = 1, bool isDefect = true, params (string Name, string Text)[] evidence) => new(
        kind,
        rule,
        StepCode.Parse(step),
        1,
        Some.Id(record),
        Some.At(minutes),
        StopDefect with { CountsAsDefect = isDefect },
        $"{kind} on {rule}.",
        evidence.ToImmutableSortedDictionary(e => e.Name, e => e.Text, StringComparer.Ordinal));

    /// <summary>An interval that started at noon.</summary>
    public static OpenInterval Open(string rule, double? readyMinutes = null, double? overdueMinutes = null, double uncertaintySeconds = 0, string from = "BOND") => new(
        Some.Code(rule),
        $"{rule} of the bond",
        StepCode.Parse(from),
        StepCode.Parse("LOAD"),
        Some.Noon,
        TimeSpan.FromSeconds(uncertaintySeconds),
        readyMinutes is { } ready ? Some.At(ready) : null,
        overdueMinutes is { } overdue ? Some.At(overdue) : null,
        StopDefect);

    /// <summary>The item FP-2 with two variants.</summary>
    public static Fact Item(string item = "FP-2") =>
        new ItemDefined(ItemNumber.Parse(item), ItemKind.Product, "field pump", [VariantCode.Parse("FP-2"), VariantCode.Parse("FP-2C")], null) { OccurredAt = Some.Noon };

    /// <summary>A released routing revision.</summary>
    public static Fact[] Released(RoutingRevision revision) =>
    [
        new RoutingDrafted(revision) { OccurredAt = Some.Noon },
        new RoutingReleased(revision.Item, revision.Revision, null) { OccurredAt = Some.Noon },
    ];

    /// <summary>A site with one station.</summary>
    public static Fact[] Site(string site, string station, string timeZone) =>
    [
        new SiteDefined(SiteCode.Parse(site), "a site", timeZone) { OccurredAt = Some.Noon },
        new StationDefined(StationCode.Parse(station), SiteCode.Parse(site), "a station") { OccurredAt = Some.Noon },
    ];
}
