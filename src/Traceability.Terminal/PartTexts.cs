using System.Globalization;
using Traceability.Contracts.Facts;

namespace Traceability.Terminal;

/// <summary>Reads the parts of a step as they are typed: NAME=VALUE.</summary>
internal static class PartTexts
{
    public static IReadOnlyList<MaterialUse>? Materials(IReadOnlyList<string> texts) => Each(texts, text =>
    {
        var (item, rest) = Pair(text, "--lot", "ITEM=LOT or ITEM=LOT/CONTAINER");
        var parts = rest.Split('/', 2);
        return new MaterialUse { Item = item, Lots = parts[0].Split(','), Container = parts.Length == 2 ? parts[1] : null };
    });

    public static IReadOnlyList<ToolUse>? Tools(IReadOnlyList<string> texts) => Each(texts, text =>
    {
        var parts = text.Split('=', 2);
        return new ToolUse { Tool = parts[0], Setting = parts.Length == 2 ? parts[1] : null };
    });

    public static IReadOnlyList<ComponentUse>? Components(IReadOnlyList<string> texts) => Each(texts, text =>
    {
        var (position, rest) = Pair(text, "--component", "POSITION=ITEM/SERIAL");
        return rest.Split('/', 2) is [var item, var serial]
            ? new ComponentUse { Position = position, Component = new() { Item = item, Serial = serial } }
            : throw Wrong(text, "--component", "POSITION=ITEM/SERIAL");
    });

    /// <summary>The number keeps its digits; what follows it is the unit, as a UCUM code.</summary>
    public static IReadOnlyList<Measurement>? Measurements(IReadOnlyList<string> texts) => Each(texts, text =>
    {
        var (characteristic, rest) = Pair(text, "--measure", "NAME=NUMBER UNIT, such as TORQUE=1.20N.m");
        var digits = rest.TakeWhile((c, i) => char.IsAsciiDigit(c) || c == '.' || (i == 0 && c is '-' or '+')).Count();
        return decimal.TryParse(rest.AsSpan(0, digits), NumberStyles.AllowLeadingSign | NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out var value)
            && rest[digits..].Trim() is { Length: > 0 } unit
            ? new Measurement { Characteristic = characteristic, Value = value, Unit = unit }
            : throw Wrong(text, "--measure", "NAME=NUMBER UNIT, such as TORQUE=1.20N.m; a plain number has the unit 1");
    });

    public static IReadOnlyList<CheckResult>? Checks(IReadOnlyList<string> texts) => Each(texts, text =>
    {
        var (characteristic, rest) = Pair(text, "--check", "NAME=pass or NAME=fail");
        return rest is "pass" or "fail"
            ? new CheckResult { Characteristic = characteristic, Passed = rest == "pass" }
            : throw Wrong(text, "--check", "NAME=pass or NAME=fail");
    });

    public static IReadOnlyList<DefectReport>? Defects(IReadOnlyList<string> texts) => Each(texts, text =>
    {
        var parts = text.Split('=', 2);
        return parts.Length == 1
            ? new DefectReport { Defect = parts[0] }
            : int.TryParse(parts[1], NumberStyles.None, CultureInfo.InvariantCulture, out var count) && count > 0
                ? new DefectReport { Defect = parts[0], Count = count }
                : throw Wrong(text, "--defect", "CODE or CODE=COUNT");
    });

    /// <summary>A time with its offset from UTC; without one it would be anybody's guess.</summary>
    public static DateTimeOffset Time(string text, string option) =>
        text.Length > 6 && (text.EndsWith('Z') || (text[^6] is '+' or '-' && text[^3] == ':'))
        && DateTimeOffset.TryParse(text, CultureInfo.InvariantCulture, DateTimeStyles.None, out var time)
            ? time
            : throw Wrong(text, option, "a time with its offset, such as 2026-03-02T09:30:00+01:00");

    private static List<T>? Each<T>(IReadOnlyList<string> texts, Func<string, T> read) => texts.Count == 0 ? null : [.. texts.Select(read)];

    public static (string Name, string Value) Pair(string text, string option, string form) =>
        text.Split('=', 2) is [{ Length: > 0 } name, { Length: > 0 } value] ? (name, value) : throw Wrong(text, option, form);

    private static NotUnderstoodException Wrong(string text, string option, string form) => new($"{option} takes {form}, not '{text}'.");
}
