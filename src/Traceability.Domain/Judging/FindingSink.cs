using System.Globalization;
using System.Xml;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Domain.Routings;

namespace Traceability.Domain.Judging;

/// <summary>Collects findings. Two with the same identity become one that says both.</summary>
internal sealed class FindingSink
{
    private List<Finding>? _findings;

    public IReadOnlyList<Finding> Findings => _findings ?? [];

    /// <summary>Adds a finding on an attempt, and counts it there.</summary>
    /// <param name="attempt">The attempt.</param>
    /// <param name="kind">What is wrong.</param>
    /// <param name="rule">The part of the routing that was broken.</param>
    /// <param name="policy">The routing's policy; null: the kind's default.</param>
    /// <param name="message">What was recorded against which rule.</param>
    /// <param name="evidence">The values that it rests on.</param>
    public void Add(
        Attempt attempt, string kind, string rule, RulePolicy? policy, string message, params ReadOnlySpan<(string Name, string Text)> evidence)
    {
        var applied = policy ?? Policies.For(kind);
        if (Add(kind, rule, attempt.Record.Step, attempt.Number, attempt.Id, attempt.At, applied, message, evidence) && applied.CountsAsDefect)
        {
            attempt.Defects++;
        }
    }

    /// <summary>Adds a finding on a fact that completes no step.</summary>
    public void Add(
        EffectiveFact fact, StepCode? step, string kind, string rule, RulePolicy? policy, string message, params ReadOnlySpan<(string Name, string Text)> evidence) =>
        Add(kind, rule, step, 0, fact.Id, fact.At.ToUniversalTime(), policy ?? Policies.For(kind), message, evidence);

    /// <summary>Adds a finding on the unit as a whole, which no record of it caused.</summary>
    public void AddOnUnit(DateTimeOffset at, string kind, string rule, string message, params ReadOnlySpan<(string Name, string Text)> evidence) =>
        Add(kind, rule, null, 0, Guid.Empty, at.ToUniversalTime(), Policies.For(kind), message, evidence);

    /// <summary>All findings, by when what they are about happened.</summary>
    public ImmutableArray<Finding> ToSorted()
    {
        if (_findings is null)
        {
            return [];
        }

        _findings.Sort(static (a, b) =>
        {
            var order = EffectiveFacts.Compare(a.At, a.Record, b.At, b.Record);
            order = order != 0 ? order : string.CompareOrdinal(a.Kind, b.Kind);
            order = order != 0 ? order : string.CompareOrdinal(a.Rule, b.Rule);
            return order != 0 ? order : a.Attempt.CompareTo(b.Attempt);
        });
        return [.. _findings];
    }

    private bool Add(
        string kind, string rule, StepCode? step, int attempt, Guid record, DateTimeOffset at, RulePolicy policy, string message, ReadOnlySpan<(string Name, string Text)> evidence)
    {
        _findings ??= [];
        for (var i = 0; i < _findings.Count; i++)
        {
            var known = _findings[i];
            if (known.Attempt == attempt && string.Equals(known.Kind, kind, StringComparison.Ordinal)
                && string.Equals(known.Rule, rule, StringComparison.Ordinal) && known.Step == step)
            {
                _findings[i] = known with { Message = $"{known.Message} {message}", Evidence = With(known.Evidence, evidence) };
                return false;
            }
        }

        _findings.Add(new(kind, rule, step, attempt, record, at, policy, message, With(ImmutableSortedDictionary.Create<string, string>(StringComparer.Ordinal), evidence)));
        return true;
    }

    private static ImmutableSortedDictionary<string, string> With(
        ImmutableSortedDictionary<string, string> evidence, ReadOnlySpan<(string Name, string Text)> more)
    {
        foreach (var (name, text) in more)
        {
            var key = name;
            for (var n = 2; evidence.ContainsKey(key); n++)
            {
                key = string.Create(CultureInfo.InvariantCulture, $"{name}-{n}");
            }

            evidence = evidence.Add(key, text);
        }

        return evidence;
    }
}

/// <summary>How findings write values; the same on every machine.</summary>
public static class Say
{
    /// <summary>A time in UTC, RFC 3339.</summary>
    public static string Time(DateTimeOffset at) =>
        at.UtcDateTime.ToString("yyyy-MM-dd'T'HH:mm:ss.FFFFFFF'Z'", CultureInfo.InvariantCulture);

    /// <summary>A duration, ISO 8601.</summary>
    public static string Duration(TimeSpan span) => XmlConvert.ToString(span);

    /// <summary>A duration for a person: "3 min", "1 d 2 h", "15 min 7.5 s"; units of SI brochure, 9th edition, table 8.</summary>
    public static string Span(TimeSpan span)
    {
        var parts = new List<string>(4);
        Add(span.Days, "d");
        Add(span.Hours, "h");
        Add(span.Minutes, "min");
        var seconds = Math.Abs(span.Ticks % TimeSpan.TicksPerMinute) / (decimal)TimeSpan.TicksPerSecond;
        if (seconds != 0 || parts.Count == 0)
        {
            parts.Add($"{seconds.ToString("0.#######", CultureInfo.InvariantCulture)} s");
        }

        return (span < TimeSpan.Zero ? "-" : string.Empty) + string.Join(' ', parts);

        void Add(int count, string unit)
        {
            if (count != 0)
            {
                parts.Add($"{Math.Abs(count).ToString(CultureInfo.InvariantCulture)} {unit}");
            }
        }
    }

    public static string Number(decimal value) => value.ToString(CultureInfo.InvariantCulture);

    public static string Number(int value) => value.ToString(CultureInfo.InvariantCulture);

    public static string Value(decimal value, string? unit) =>
        unit is null or "1" or "" ? Number(value) : string.Create(CultureInfo.InvariantCulture, $"{value} {unit}");
}
