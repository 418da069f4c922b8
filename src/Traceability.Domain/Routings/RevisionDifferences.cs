using System.Reflection;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Routings;

/// <summary>What two revisions have different.</summary>
public enum ChangeKind
{
    /// <summary>The second has it, the first doesn't.</summary>
    Added,

    /// <summary>The first has it, the second doesn't.</summary>
    Removed,

    /// <summary>Both have it, and a member differs.</summary>
    Changed,

    /// <summary>Both have these steps, in another order.</summary>
    Reordered,
}

/// <summary>What part of a revision differs.</summary>
public enum RevisionPart
{
    /// <summary>The revision as a whole: its description, its effectivity, the order of its steps.</summary>
    Revision,

    /// <summary>A step, or a member of it that is no part of its own.</summary>
    Step,

    /// <summary>A caution of a step.</summary>
    Caution,

    /// <summary>A characteristic of a step.</summary>
    Characteristic,

    /// <summary>A material requirement of a step.</summary>
    Material,

    /// <summary>A component requirement of a step.</summary>
    Component,

    /// <summary>A tool requirement of a step.</summary>
    Tool,

    /// <summary>An interval rule.</summary>
    Interval,
}

/// <summary>One difference between two revisions.</summary>
/// <param name="Kind">What happened to it.</param>
/// <param name="Part">What it is.</param>
/// <param name="Step">The step that it belongs to; null for the revision itself and for interval rules.</param>
/// <param name="Code">The code or position of the part; "" for the revision, for a step itself and for a caution.</param>
/// <param name="Member">The member that differs, named as on the wire; "" where the whole part was added or removed.</param>
/// <param name="From">What the first says, in words; null if it says nothing.</param>
/// <param name="To">What the second says, in words; null if it says nothing.</param>
/// <param name="Sentence">The difference for a person.</param>
public sealed record RevisionChange(
    ChangeKind Kind, RevisionPart Part, StepCode? Step, string Code, string Member, string? From, string? To, string Sentence);

/// <summary>The difference between two revisions: a pure function of both.</summary>
/// <remarks>
/// Parts are told apart by their codes. Every member of every part is compared, also one that is added to the type later;
/// 0.50 and 0.5 are the same limit, 10 mm and 1 cm are not the same writing and are told. Of lists in which order says
/// nothing (prerequisites, stations, alternatives) only the content is compared.
/// </remarks>
public static class RevisionDifferences
{
    /// <summary>The members that stand in an answer as parts of their own.</summary>
    private static readonly ImmutableHashSet<string> Parts = ImmutableHashSet.Create(
        StringComparer.Ordinal,
        nameof(RoutingRevision.Steps),
        nameof(RoutingRevision.Intervals),
        nameof(RoutingRevision.Revision),
        nameof(Step.Code),
        nameof(Step.Cautions),
        nameof(Step.Characteristics),
        nameof(Step.Materials),
        nameof(Step.Components),
        nameof(Step.Tools),
        nameof(ComponentRequirement.Position));

    /// <summary>Everything that differs, in the order of the steps of the second; empty if nothing but the revision's code does.</summary>
    public static ImmutableArray<RevisionChange> Between(RoutingRevision from, RoutingRevision to)
    {
        ArgumentNullException.ThrowIfNull(from);
        ArgumentNullException.ThrowIfNull(to);
        var changes = new List<RevisionChange>();
        Members(changes, from, to, new(RevisionPart.Revision, null, string.Empty, "The revision"));
        Order(changes, from, to);
        Keyed(changes, from.Steps, to.Steps, s => s.Code.ToString(), s => new(RevisionPart.Step, s.Code, string.Empty, $"Step {s.Code} ({s.Name})"), OfStep);
        Keyed(changes, from.Intervals, to.Intervals, i => i.Code.ToString(), i => new(RevisionPart.Interval, null, i.Code.ToString(), $"Interval {i.Code} ({i.Name})"));
        return [.. changes];
    }

    private static void OfStep(List<RevisionChange> changes, Step from, Step to)
    {
        var step = to.Code;
        Cautions(changes, from, to);
        Keyed(changes, from.Characteristics, to.Characteristics, c => c.Code.ToString(), c => Place(RevisionPart.Characteristic, c.Code, $"characteristic {c.Code} ({c.Name})"));
        Keyed(changes, from.Materials, to.Materials, c => c.Code.ToString(), c => Place(RevisionPart.Material, c.Code, $"material {c.Code}"));
        Keyed(changes, from.Components, to.Components, c => c.Position.ToString(), c => Place(RevisionPart.Component, c.Position, $"component at {c.Position}"));
        Keyed(changes, from.Tools, to.Tools, c => c.Code.ToString(), c => Place(RevisionPart.Tool, c.Code, $"tool {c.Code}"));

        Where Place(RevisionPart part, Code code, string name) => new(part, step, code.ToString(), $"Step {step}, {name}");
    }

    private static void Cautions(List<RevisionChange> changes, Step from, Step to)
    {
        var where = new Where(RevisionPart.Caution, to.Code, string.Empty, $"Step {to.Code}");
        foreach (var gone in from.Cautions.Except(to.Cautions, StringComparer.Ordinal))
        {
            changes.Add(where.Change(ChangeKind.Removed, string.Empty, gone, null, $"the caution \"{gone}\" is dropped"));
        }

        foreach (var added in to.Cautions.Except(from.Cautions, StringComparer.Ordinal))
        {
            changes.Add(where.Change(ChangeKind.Added, string.Empty, null, added, $"the caution \"{added}\" is new"));
        }
    }

    // Where the steps that both have come in another order; a new step between two is no reordering.
    private static void Order(List<RevisionChange> changes, RoutingRevision from, RoutingRevision to)
    {
        StepCode[] before = [.. from.Steps.Select(s => s.Code).Where(c => to.Find(c) is not null)];
        StepCode[] after = [.. to.Steps.Select(s => s.Code).Where(c => from.Find(c) is not null)];
        if (!before.SequenceEqual(after))
        {
            var (was, now) = (string.Join(", ", before), string.Join(", ", after));
            changes.Add(new(ChangeKind.Reordered, RevisionPart.Revision, null, string.Empty, "steps", was, now, $"The steps come in another order: {now}; before: {was}."));
        }
    }

    private static void Keyed<T>(
        List<RevisionChange> changes,
        ImmutableArray<T> from,
        ImmutableArray<T> to,
        Func<T, string> key,
        Func<T, Where> place,
        Action<List<RevisionChange>, T, T>? inside = null)
        where T : class
    {
        foreach (var gone in from.Where(f => !to.Any(t => key(t) == key(f))))
        {
            changes.Add(place(gone).Change(ChangeKind.Removed, string.Empty, RoutingWords.Of(gone), null, "is dropped"));
        }

        foreach (var now in to)
        {
            if (from.FirstOrDefault(f => key(f) == key(now)) is not { } before)
            {
                changes.Add(place(now).Change(ChangeKind.Added, string.Empty, null, RoutingWords.Of(now), "is new"));
                continue;
            }

            Members(changes, before, now, place(now));
            inside?.Invoke(changes, before, now);
        }
    }

    private static void Members<T>(List<RevisionChange> changes, T from, T to, Where where)
        where T : class
    {
        foreach (var member in RoutingWords.Members(typeof(T)).Where(m => !Parts.Contains(m.Name)))
        {
            var (first, second) = (member.GetValue(from), member.GetValue(to));
            var (was, now) = (RoutingWords.Of(first), RoutingWords.Of(second));
            if (!string.Equals(was, now, StringComparison.Ordinal) || RoutingWords.SaysSomething(first) != RoutingWords.SaysSomething(second))
            {
                changes.Add(where.Change(ChangeKind.Changed, RoutingWords.WireName(member.Name), was, now, $"{RoutingWords.Spoken(member.Name)} is now {now}; before: {was}"));
            }
        }
    }

    private sealed record Where(RevisionPart Part, StepCode? Step, string Code, string Name)
    {
        public RevisionChange Change(ChangeKind kind, string member, string? from, string? to, string what) =>
            new(kind, Part, Step, Code, member, from, to, $"{Name}{(kind is ChangeKind.Changed || Part == RevisionPart.Caution ? ": " : " ")}{what}.");
    }
}

/// <summary>Puts the members of a routing in words, so that equal words mean equal content.</summary>
public static class RoutingWords
{
    /// <summary>The members that are part of the content: those that can be set.</summary>
    public static IEnumerable<PropertyInfo> Members(Type type) =>
        type.GetProperties(BindingFlags.Public | BindingFlags.Instance).Where(p => p.SetMethod is not null && p.GetIndexParameters().Length == 0);

    /// <summary>The member's name on the wire.</summary>
    public static string WireName(string member) => char.ToLowerInvariant(member[0]) + member[1..];

    /// <summary>The member's name as words: "is point of no return".</summary>
    public static string Spoken(string member) =>
        string.Concat(member.Select((c, i) => char.IsUpper(c) ? $"{(i > 0 ? " " : string.Empty)}{char.ToLowerInvariant(c)}" : c.ToString()));

    /// <summary>A value in words; "none" where nothing is said.</summary>
    public static string Of(object? value) => value switch
    {
        null => "none",
        string text => text,
        bool flag => flag ? "yes" : "no",
        decimal number => Number(number),
        TimeSpan span => Judging.Say.Span(span),
        DateTimeOffset time => Judging.Say.Time(time),
        Enum named => Spoken(named.ToString()),
        EnteredQuantity quantity => $"{Number(quantity.Value)} {quantity.Unit}",
        Effectivity effectivity => Effective(effectivity),
        RulePolicy policy => $"{(policy.Enforcement == Enforcement.Stop ? "stop" : "flag")}, {(policy.CountsAsDefect ? "a defect" : "not a defect")}",
        Limit limit => string.Concat([Number(limit.Constant), .. limit.Terms.Select(Term)]),
        Milestone milestone => $"{milestone.Step} {Spoken(milestone.Kind.ToString())}{(milestone.Name is { } name ? $" {name}" : string.Empty)}",
        IFormattable and ValueType => ((IFormattable)value).ToString(null, System.Globalization.CultureInfo.InvariantCulture),
        System.Collections.IEnumerable list => List(list),
        ValueType => value.ToString()!,
        _ => string.Join("; ", Members(value.GetType()).Select(m => (m.Name, Text: Of(m.GetValue(value)))).Where(m => m.Text != "none").Select(m => $"{Spoken(m.Name)}: {m.Text}")),
    };

    /// <summary>Whether a value is there: a code may itself be written "none".</summary>
    public static bool SaysSomething(object? value) => value is string || (value is System.Collections.IEnumerable list ? list.Cast<object?>().Any() : value is not null);

    /// <summary>The units that an effectivity means.</summary>
    public static string Effective(Effectivity effectivity)
    {
        var parts = new List<string>();
        Add(!effectivity.Variants.IsEmpty, () => $"variant {List(effectivity.Variants)}");
        Add(!effectivity.Options.IsEmpty, () => $"with {List(effectivity.Options)}");
        Add(effectivity.SerialFrom is not null, () => $"from serial {effectivity.SerialFrom}");
        Add(effectivity.SerialTo is not null, () => $"up to serial {effectivity.SerialTo}");
        Add(effectivity.OpenedFrom is not null, () => $"opened from {Of(effectivity.OpenedFrom)}");
        Add(effectivity.OpenedBefore is not null, () => $"opened before {Of(effectivity.OpenedBefore)}");
        return parts.Count == 0 ? "every unit" : string.Join(", ", parts);

        void Add(bool isSet, Func<string> words)
        {
            if (isSet)
            {
                parts.Add(words());
            }
        }
    }

    // In order, since it says nothing in any list of a routing that is not compared part by part.
    private static string List(System.Collections.IEnumerable list)
    {
        string[] words = [.. list.Cast<object?>().Select(Of).Order(StringComparer.Ordinal)];
        return words.Length == 0 ? "none" : string.Join(", ", words);
    }

    private static string Number(decimal value) => (value / 1.0000000000000000000000000000m).ToString(System.Globalization.CultureInfo.InvariantCulture);

    private static string Term(LimitTerm term) =>
        $" {(term.Factor < 0 ? "-" : "+")} {Number(Math.Abs(term.Factor))} x {(term.Position is { } position ? $"{position}:" : string.Empty)}{term.Step}/{term.Characteristic}";
}
