using System.Text.Json;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.SharedFactors;
using Traceability.Service.Http.Reading;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.SharedFactors;

/// <summary>A search, as asked for.</summary>
/// <param name="Units">The failed units; empty where they are chosen by failure.</param>
/// <param name="Failure">What was found on the failed units; null where they are named.</param>
/// <param name="ComparedFrom">Opened from here on; null: by the failed units.</param>
/// <param name="ComparedTo">Opened before this; null: by the failed units.</param>
/// <param name="ErrorRate">The error rate.</param>
/// <param name="Kinds">What to try.</param>
internal sealed record Search(
    ImmutableArray<UnitKey> Units,
    Failure? Failure,
    DateTimeOffset? ComparedFrom,
    DateTimeOffset? ComparedTo,
    double ErrorRate,
    ImmutableHashSet<FactorKind> Kinds);

/// <summary>What was found on failed units.</summary>
internal sealed record Failure(ItemNumber Item, string? Kind, StepCode? Step, Code? Rule, DateTimeOffset? From, DateTimeOffset? To);

/// <summary>Reads the question, with every fault of its form at once.</summary>
internal static class SearchReading
{
    /// <summary>The most failed units.</summary>
    public const int UnitsMax = 1_000;

    private const decimal ErrorRateMax = 0.5m;

    private static readonly Shape Question = new("units", "failure", "comparedFrom", "comparedTo", "errorRate", "kinds");
    private static readonly Shape FailureShape = new("item", "kind", "step", "rule", "from", "to");

    private static readonly ImmutableSortedDictionary<string, FactorKind> Kinds = Enum.GetValues<FactorKind>()
        .ToImmutableSortedDictionary(EnumNames<FactorKind>.Of, k => k, StringComparer.Ordinal);

    private static readonly ImmutableSortedSet<string> FindingNames =
        [.. typeof(FindingKinds).GetFields().Where(f => f.IsLiteral).Select(f => (string)f.GetRawConstantValue()!).Order(StringComparer.Ordinal)];

    /// <summary>The search, or every fault of the question.</summary>
    public static (Search? Search, ImmutableArray<Fault> Faults) Read(ReadOnlyMemory<byte> body)
    {
        JsonDocument document;
        try
        {
            document = JsonDocument.Parse(body, new() { MaxDepth = WireLimits.DepthMax });
        }
        catch (JsonException malformed)
        {
            return (null, [new(string.Empty, body.IsEmpty ? "The body is empty. A JSON object is expected; /docs shows its form." : $"The body is not JSON: {malformed.Message}")]);
        }

        using (document)
        {
            var reading = new JsonReading();
            using var o = reading.Open(document.RootElement, Question);
            var search = Read(o);
            return reading.HasFaults ? (null, reading.Faults) : (search, []);
        }
    }

    private static Search Read(ObjectReading o)
    {
        var units = o.List("units", Parts.Unit);
        var failure = o.ObjectOr<Failure?>("failure", null, ReadFailure);
        if (o.Has("units") == o.Has("failure"))
        {
            o.Fail("units", "Say which units failed: by units or by failure, one of the two.");
        }
        else if (o.Has("units") && (units.IsEmpty || units.Length > UnitsMax))
        {
            o.Fail("units", $"1 to {UnitsMax} units are expected, not {units.Length}.");
        }
        else if (units.Distinct().Count() < units.Length)
        {
            o.Fail("units", $"Unit {units.GroupBy(u => u).First(g => g.Count() > 1).Key} is named twice.");
        }

        var from = o.TimeOrNull("comparedFrom");
        var to = o.TimeOrNull("comparedTo");
        if (from >= to)
        {
            o.Fail("comparedTo", "The end is not after the beginning.");
        }

        return new(units, failure, from, to, ErrorRate(o), KindsOf(o));
    }

    private static double ErrorRate(ObjectReading o)
    {
        if (!o.Has("errorRate"))
        {
            return SharedFactorSearch.ErrorRateDefault;
        }

        var before = o.Reading.FaultCount;
        var rate = o.NumberOrZero("errorRate");
        if (rate is <= 0 or > ErrorRateMax && o.Reading.FaultCount == before)
        {
            o.Fail("errorRate", "A number above 0 and at most 0.5 is expected, such as 0.05.");
        }

        return (double)rate;
    }

    private static ImmutableHashSet<FactorKind> KindsOf(ObjectReading o)
    {
        if (!o.Has("kinds"))
        {
            return [.. Kinds.Values];
        }

        var names = o.Texts("kinds");
        if (names.FirstOrDefault(n => !Kinds.ContainsKey(n)) is { } unknown)
        {
            o.Fail("kinds", $"'{unknown}' is none of {string.Join(", ", Kinds.Keys)}.");
        }
        else if (names.IsEmpty)
        {
            o.Fail("kinds", $"Name at least one of {string.Join(", ", Kinds.Keys)}, or leave kinds out.");
        }

        return [.. names.Where(Kinds.ContainsKey).Select(n => Kinds[n])];
    }

    private static Failure ReadFailure(JsonReading reading, JsonElement element)
    {
        using var o = reading.Open(element, FailureShape);
        var kind = o.TextOrNull("kind");
        if (kind is not null && !FindingNames.Contains(kind))
        {
            o.Fail("kind", $"'{kind}' is none of {string.Join(", ", FindingNames)}.");
        }

        var from = o.TimeOrNull("from");
        var to = o.TimeOrNull("to");
        if (from >= to)
        {
            o.Fail("to", "The end is not after the beginning.");
        }

        return new(o.Code<ItemNumber>("item"), kind, o.CodeOrNull<StepCode>("step"), o.CodeOrNull<Code>("rule"), from, to);
    }
}
