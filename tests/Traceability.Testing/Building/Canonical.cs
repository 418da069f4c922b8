using System.Text.Json;
using Traceability.Domain.Judging;

namespace Traceability.Testing.Building;

/// <summary>Writes a judgement as text, so that two can be compared by value and a difference can be read.</summary>
public static class Canonical
{
    private static readonly JsonSerializerOptions Options = new() { WriteIndented = true };

    public static string Text(UnitJudgement judgement) => JsonSerializer.Serialize(judgement, Options);
}
