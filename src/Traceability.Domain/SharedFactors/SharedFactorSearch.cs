using System.Globalization;
using System.Runtime.InteropServices;
using Traceability.Domain.Statistics;

namespace Traceability.Domain.SharedFactors;

/// <summary>Searches what failed units share more than a comparison does.</summary>
/// <remarks>
/// Each factor is tried by Fisher's exact test on the units where it is known whether they have it. A unit of which a record is missing
/// counts neither as having nor as not having what that record could have named. All factors that any unit has are tried and
/// counted, also those that can't tell anything.
/// </remarks>
public static class SharedFactorSearch
{
    /// <summary>The error rate where none is asked for: the expected share of false ones among the factors called significant.</summary>
    public const double ErrorRateDefault = 0.05;

    private const double CauseInCases = 0.9;
    private const double CauseInOthers = 0.2;

    // More of a comparison adds next to nothing to the power, and the sum over all tables would grow with it.
    private const int OthersForPowerMax = 1_000;
    private const int CasesForPowerMax = 200;

    private static readonly Comparer<FactorGroup> InOrder = Comparer<FactorGroup>.Create(static (a, b) =>
        a.P != b.P ? a.P.CompareTo(b.P)
        : a.Factors[0].Kind != b.Factors[0].Kind ? a.Factors[0].Kind.CompareTo(b.Factors[0].Kind)
        : string.CompareOrdinal(a.Factors[0].Name, b.Factors[0].Name) is not 0 and var byName ? byName
        : string.CompareOrdinal(a.Factors[0].Of, b.Factors[0].Of));

    /// <summary>Searches.</summary>
    /// <param name="units">The units; each once.</param>
    /// <param name="errorRate">Inside 0 and 1.</param>
    /// <exception cref="ArgumentOutOfRangeException">The error rate is not inside 0 and 1.</exception>
    public static SharedFactorAnswer Run(IReadOnlyList<UnitFactors> units, double errorRate = ErrorRateDefault)
    {
        ArgumentNullException.ThrowIfNull(units);
        ConfidenceInterval.RequireConfidence(errorRate);
        var cases = units.Count(u => u.IsCase);
        var others = units.Count - cases;
        var patterns = Patterns(units);
        var p = patterns.Select(g => FishersExactTest.TwoSided(g.Table)).ToArray();

        // Each factor counts as tried, also where others share its pattern.
        var adjusted = BenjaminiHochberg.Adjust([.. patterns.SelectMany((g, i) => Enumerable.Repeat(p[i], g.Factors.Length))]);
        var tried = adjusted.Length;
        var groups = new List<FactorGroup>(patterns.Count);
        var first = 0;
        for (var i = 0; i < patterns.Count; i++)
        {
            var pattern = patterns[i];
            var isSignificant = adjusted[first] <= errorRate && IsMoreOftenInCases(pattern.Table);
            groups.Add(new(pattern.Factors, pattern.Table, pattern.CasesOpen, pattern.OthersOpen, p[i], adjusted[first], isSignificant));
            first += pattern.Factors.Length;
        }

        return new(cases, others, tried, [.. groups.OrderBy(g => !IsMoreOftenInCases(g.Table)).ThenBy(g => g, InOrder)], PowerOf(cases, others, tried, errorRate));
    }

    private static bool IsMoreOftenInCases(TwoByTwo t) => (long)t.CasesWith * t.OthersWithout > (long)t.CasesWithout * t.OthersWith;

    private static List<(ImmutableArray<FactorKey> Factors, TwoByTwo Table, int CasesOpen, int OthersOpen)> Patterns(IReadOnlyList<UnitFactors> units)
    {
        var having = new Dictionary<FactorKey, List<int>>();
        var open = new Dictionary<(FactorKind, string), List<int>>();
        for (var i = 0; i < units.Count; i++)
        {
            foreach (var factor in units[i].Has)
            {
                Append(having, factor, i);
            }

            foreach (var family in units[i].Open)
            {
                Append(open, family, i);
            }
        }

        var patterns = new Dictionary<string, (List<FactorKey> Factors, TwoByTwo Table, int CasesOpen, int OthersOpen)>(StringComparer.Ordinal);
        foreach (var (factor, with) in having)
        {
            var unknown = open.TryGetValue((factor.Kind, factor.Of), out var all) ? all.Except(with).Order().ToList() : [];
            var name = $"{Name(with)}|{Name(unknown)}";
            if (patterns.TryGetValue(name, out var known))
            {
                known.Factors.Add(factor);
            }
            else
            {
                patterns.Add(name, ([factor], TableOf(units, with, unknown), unknown.Count(i => units[i].IsCase), unknown.Count(i => !units[i].IsCase)));
            }
        }

        return
        [
            .. patterns.Values.Select(g => (
                g.Factors.OrderBy(f => f.Kind).ThenBy(f => f.Name, StringComparer.Ordinal).ThenBy(f => f.Of, StringComparer.Ordinal).ToImmutableArray(),
                g.Table,
                g.CasesOpen,
                g.OthersOpen)),
        ];
    }

    private static TwoByTwo TableOf(IReadOnlyList<UnitFactors> units, List<int> with, List<int> unknown)
    {
        var cases = units.Count(u => u.IsCase);
        var casesWith = with.Count(i => units[i].IsCase);
        var casesOpen = unknown.Count(i => units[i].IsCase);
        var othersWith = with.Count - casesWith;
        return new(
            casesWith,
            cases - casesWith - casesOpen,
            othersWith,
            units.Count - cases - othersWith - (unknown.Count - casesOpen));
    }

    private static void Append<TKey>(Dictionary<TKey, List<int>> lists, TKey key, int unit)
        where TKey : notnull
    {
        ref var list = ref CollectionsMarshal.GetValueRefOrAddDefault(lists, key, out _);
        list ??= [];
        if (list.Count == 0 || list[^1] != unit)
        {
            list.Add(unit);
        }
    }

    private static string Name(List<int> units) => string.Join(',', units.Select(i => i.ToString(CultureInfo.InvariantCulture)));

    private static SearchPower PowerOf(int cases, int others, int tried, double errorRate)
    {
        if (cases == 0 || others == 0 || tried == 0)
        {
            return new(1, CauseInCases, CauseInOthers, 0);
        }

        var least = Math.Min(1, tried * FishersExactTest.TwoSided(new(cases, 0, 0, others)));
        var chance = FishersExactTest.Power(
            Math.Min(cases, CasesForPowerMax), Math.Min(others, OthersForPowerMax), CauseInCases, CauseInOthers, errorRate / tried);
        return new(least, CauseInCases, CauseInOthers, chance);
    }
}
