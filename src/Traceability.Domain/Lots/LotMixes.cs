using Traceability.Domain.Facts;
using Traceability.Domain.Items;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Lots;

/// <summary>The mixes that a lot is of.</summary>
public static class LotMixes
{
    // Deeper than anybody divides what is used up within hours.
    private const int DepthMax = 50;

    /// <summary>Each mixing that material in the lot came from, also where that was split or merged since.</summary>
    /// <param name="lot">The lot.</param>
    /// <param name="by">What went in later doesn't count; what brought the lot into being does.</param>
    /// <param name="find">Finds a lot; null if it isn't known.</param>
    public static ImmutableArray<(EffectiveFact Fact, LotMixed Mixed)> Of(Lot lot, DateTimeOffset by, Func<LotKey, Lot?> find)
    {
        ArgumentNullException.ThrowIfNull(lot);
        ArgumentNullException.ThrowIfNull(find);
        if (!lot.HasSources)
        {
            return [];
        }

        var found = new Dictionary<Guid, (EffectiveFact Fact, LotMixed Mixed)>();
        Visit(lot, by, [], 0);
        return [.. found.Values];

        void Visit(Lot here, DateTimeOffset until, HashSet<(LotKey Lot, DateTimeOffset By)> seen, int depth)
        {
            if (depth > DepthMax || !seen.Add((here.Key, until)))
            {
                return;
            }

            var origin = here.Origin;
            foreach (var fact in here.Standing().Where(f => f.Fact is ILotInflow && (f.At <= until || f == origin)))
            {
                if (fact.Fact is LotMixed mixed)
                {
                    found[fact.Id] = (fact, mixed);
                    continue;
                }

                foreach (var source in Lot.SourcesOf((ILotInflow)fact.Fact))
                {
                    if (find(source.Lot) is { } known)
                    {
                        Visit(known, fact.At, seen, depth + 1);
                    }
                }
            }
        }
    }

    /// <summary>What is wrong with a mix by what its item declares; empty: nothing.</summary>
    public static ImmutableArray<MixFault> Check(Mixture declared, LotMixed mixed)
    {
        ArgumentNullException.ThrowIfNull(declared);
        ArgumentNullException.ThrowIfNull(mixed);
        var parts = declared.Parts.OrEmpty();
        var taken = Lot.SourcesOf(mixed).ToArray();
        var faults = ImmutableArray.CreateBuilder<MixFault>();
        foreach (var other in taken.Where(t => !parts.Any(p => p.Item == t.Lot.Item)))
        {
            faults.Add(new(FindingKinds.MixPartWrong, $"Lot {other.Lot} went in, and the mix takes no {other.Lot.Item}."));
        }

        foreach (var missing in parts.Where(p => !taken.Any(t => t.Lot.Item == p.Item)))
        {
            faults.Add(new(FindingKinds.MixPartWrong, $"No {missing.Item} went in."));
        }

        if (faults.Count == 0)
        {
            CheckRatio(declared, taken, faults);
        }

        return faults.ToImmutable();
    }

    private static void CheckRatio(Mixture declared, LotSource[] taken, ImmutableArray<MixFault>.Builder faults)
    {
        var parts = declared.Parts.OrEmpty();
        var sums = new decimal[parts.Length];
        foreach (var source in taken)
        {
            var i = parts.IndexOf(parts.First(p => p.Item == source.Lot.Item));
            if (source.Quantity is not { } quantity)
            {
                faults.Add(new(FindingKinds.MixRatioNotRecorded, $"How much of lot {source.Lot} went in is not recorded."));
                return;
            }

            if (!Values.TryConvert(quantity.Value, quantity.Unit, parts[i].Amount.Unit, out var value) || !Values.TryAdd(sums[i], value, out sums[i]))
            {
                faults.Add(new(FindingKinds.MixRatioNotRecorded, $"{quantity} of lot {source.Lot} can't be compared with the declared {parts[i].Amount}."));
                return;
            }
        }

        // Each part to the first: taken / declared, off by at most the tolerance. Multiplied out, so that nothing is rounded.
        for (var i = 1; i < parts.Length; i++)
        {
            if (!Values.TryMultiply(sums[i], parts[0].Amount.Value, out var here) || !Values.TryMultiply(sums[0], parts[i].Amount.Value, out var asked)
                || !Values.TryMultiply(asked, declared.Tolerance, out var off) || Math.Abs(here - asked) > off || asked <= 0)
            {
                faults.Add(new(
                    FindingKinds.MixRatioOutOfLimits,
                    $"{Say.Value(sums[i], parts[i].Amount.Unit)} of {parts[i].Item} for {Say.Value(sums[0], parts[0].Amount.Unit)} of {parts[0].Item} are recorded; {parts[i].Amount} for {parts[0].Amount} are declared, within {Say.Number(declared.Tolerance * 100)} %."));
            }
        }
    }
}

/// <summary>Something that is wrong with a mix.</summary>
/// <param name="Kind">A kind of finding.</param>
/// <param name="Message">What was recorded against what is declared.</param>
public sealed record MixFault(string Kind, string Message);
