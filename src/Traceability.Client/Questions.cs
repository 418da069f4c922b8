using Traceability.Client.Http;

namespace Traceability.Client;

/// <summary>Which page of a scope.</summary>
public sealed record ScopePage
{
    /// <summary>Gets the most members of the page, 1 to 1,000; null: 100.</summary>
    public int? Limit { get; init; }

    /// <summary>Gets what the page before said as "after".</summary>
    public string? After { get; init; }

    /// <summary>Gets whether to give the units as well that a record clears.</summary>
    public bool WithCleared { get; init; }

    /// <summary>Gets what the page before said as "clearedAfter".</summary>
    public string? ClearedAfter { get; init; }

    internal string Of(string path) => Address.With(
        path, ("limit", Limit), ("after", After), ("include", WithCleared ? "cleared" : null), ("clearedAfter", ClearedAfter));
}

/// <summary>Which findings.</summary>
public sealed record FindingQuestion
{
    /// <summary>Gets the item whose units are meant; null: of all.</summary>
    public string? Item { get; init; }

    /// <summary>Gets the serial of the only unit that is meant; together with the item.</summary>
    public string? Serial { get; init; }

    /// <summary>Gets the only kind that is meant: a code of contracts/findings.json.</summary>
    public string? Kind { get; init; }

    /// <summary>Gets the only step that is meant.</summary>
    public string? Step { get; init; }

    /// <summary>Gets from when on what they are about happened.</summary>
    public DateTimeOffset? From { get; init; }

    /// <summary>Gets before when what they are about happened.</summary>
    public DateTimeOffset? To { get; init; }

    /// <summary>Gets whether only those are meant that count as defects.</summary>
    public bool DefectsOnly { get; init; }

    /// <summary>Gets the most of the page, 1 to 1,000; null: 100.</summary>
    public int? Limit { get; init; }

    /// <summary>Gets what the page before said as "after".</summary>
    public string? After { get; init; }

    internal string Of(string path, bool isPage) => Address.With(
        path,
        ("item", Item),
        ("serial", Serial),
        ("kind", Kind),
        ("step", Step),
        ("from", From),
        ("to", To),
        ("defectsOnly", DefectsOnly),
        ("limit", isPage ? Limit : null),
        ("after", isPage ? After : null));
}

/// <summary>Which yields of steps.</summary>
public sealed record StepYieldQuestion
{
    /// <summary>Gets the item.</summary>
    public required string Item { get; init; }

    /// <summary>Gets the first day, in the calendar of the station's site; null: 30 days up to the last.</summary>
    public DateOnly? From { get; init; }

    /// <summary>Gets the last day, included; null: the latest that any site is in.</summary>
    public DateOnly? To { get; init; }

    /// <summary>Gets what to tell apart: day, station, variant, step, revision; null: step.</summary>
    public IReadOnlyList<string>? By { get; init; }

    /// <summary>Gets the only step that is meant.</summary>
    public string? Step { get; init; }

    /// <summary>Gets the only station that is meant.</summary>
    public string? Station { get; init; }

    /// <summary>Gets the only variant that is meant.</summary>
    public string? Variant { get; init; }
}

/// <summary>Which nonconformances.</summary>
public sealed record NonconformanceQuestion
{
    /// <summary>Gets the item whose units are meant; null: of all.</summary>
    public string? Item { get; init; }

    /// <summary>Gets the serial of the only unit that is meant; together with the item.</summary>
    public string? Serial { get; init; }

    /// <summary>Gets the only states that are meant; null: all.</summary>
    public IReadOnlyList<string>? States { get; init; }

    /// <summary>Gets whether only those are meant that keep their unit from being released.</summary>
    public bool OpenOnly { get; init; }

    /// <summary>Gets the only step that is meant.</summary>
    public string? Step { get; init; }

    /// <summary>Gets the only defect code that is meant.</summary>
    public string? Defect { get; init; }

    /// <summary>Gets the only concession that is meant.</summary>
    public string? Concession { get; init; }

    /// <summary>Gets from when on what they are about happened.</summary>
    public DateTimeOffset? From { get; init; }

    /// <summary>Gets before when what they are about happened.</summary>
    public DateTimeOffset? To { get; init; }

    /// <summary>Gets the most of the page, 1 to 1,000; null: 100.</summary>
    public int? Limit { get; init; }

    /// <summary>Gets what the page before said as "after".</summary>
    public string? After { get; init; }

    internal string Of(string path) => Address.With(
        path,
        ("item", Item),
        ("serial", Serial),
        ("state", States),
        ("openOnly", OpenOnly),
        ("step", Step),
        ("defect", Defect),
        ("concession", Concession),
        ("from", From),
        ("to", To),
        ("limit", Limit),
        ("after", After));
}
