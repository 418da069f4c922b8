using Traceability.Domain.Primitives;

namespace Traceability.Domain.Routings;

/// <summary>Two released revisions that both apply to some unit. The one released later is effective for it.</summary>
/// <param name="Earlier">The revision released first.</param>
/// <param name="Later">The revision released later, which is effective where both apply.</param>
/// <param name="Where">The units that both apply to.</param>
/// <param name="IsWhole">The later one applies to every unit of the earlier one, which is therefore effective for none.</param>
public sealed record EffectivityOverlap(RevisionCode Earlier, RevisionCode Later, Effectivity Where, bool IsWhole);

/// <summary>Where the effectivities of the released revisions of a routing meet.</summary>
/// <remarks>
/// A later release that takes the place of an earlier one is the usual course; what is to be seen is where it does so only
/// in part, and whether that was meant. Options are a set that a unit may have any of, so two demands for options always
/// meet in a unit that has them all.
/// </remarks>
public static class EffectivityOverlaps
{
    /// <summary>Every pair that meets, in the order of release.</summary>
    public static ImmutableArray<EffectivityOverlap> Of(Routing routing)
    {
        ArgumentNullException.ThrowIfNull(routing);
        var overlaps = ImmutableArray.CreateBuilder<EffectivityOverlap>();
        for (var later = 1; later < routing.Released.Length; later++)
        {
            for (var earlier = 0; earlier < later; earlier++)
            {
                var (first, second) = (routing.Released[earlier], routing.Released[later]);
                if (Intersect(first.Effectivity, second.Effectivity) is { } where)
                {
                    overlaps.Add(new(first.Revision, second.Revision, where, Covers(second.Effectivity, first.Effectivity)));
                }
            }
        }

        return overlaps.ToImmutable();
    }

    /// <summary>The units that both mean; null if there can be none.</summary>
    public static Effectivity? Intersect(Effectivity a, Effectivity b)
    {
        ArgumentNullException.ThrowIfNull(a);
        ArgumentNullException.ThrowIfNull(b);
        ImmutableArray<VariantCode> variants =
            a.Variants.IsEmpty ? b.Variants
            : b.Variants.IsEmpty ? a.Variants
            : [.. a.Variants.Where(b.Variants.Contains)];
        var both = new Effectivity(
            variants,
            [.. a.Options.Union(b.Options)],
            Latest(a.SerialFrom, b.SerialFrom),
            Earliest(a.SerialTo, b.SerialTo),
            a.OpenedFrom is not { } from || b.OpenedFrom > from ? b.OpenedFrom : from,
            a.OpenedBefore is not { } before || b.OpenedBefore < before ? b.OpenedBefore : before);
        return (variants.IsEmpty && !(a.Variants.IsEmpty && b.Variants.IsEmpty)) || !HoldsAnything(both) ? null : both;
    }

    /// <summary>Whether the outer one means every unit that the inner one means.</summary>
    public static bool Covers(Effectivity outer, Effectivity inner)
    {
        ArgumentNullException.ThrowIfNull(outer);
        ArgumentNullException.ThrowIfNull(inner);
        return !HoldsAnything(inner)
            || ((outer.Variants.IsEmpty || (!inner.Variants.IsEmpty && inner.Variants.All(outer.Variants.Contains)))
                && outer.Options.All(inner.Options.Contains)
                && (outer.SerialFrom is not { } from || (inner.SerialFrom is { } innerFrom && Effectivity.Compare(innerFrom, from) >= 0))
                && (outer.SerialTo is not { } to || (inner.SerialTo is { } innerTo && Effectivity.Compare(innerTo, to) <= 0))
                && (outer.OpenedFrom is not { } start || inner.OpenedFrom >= start)
                && (outer.OpenedBefore is not { } end || inner.OpenedBefore <= end));
    }

    private static bool HoldsAnything(Effectivity effectivity) =>
        !(effectivity is { SerialFrom: { } from, SerialTo: { } to } && Effectivity.Compare(from, to) > 0)
        && !(effectivity.OpenedFrom >= effectivity.OpenedBefore);

    private static SerialNumber? Latest(SerialNumber? a, SerialNumber? b) =>
        a is not { } first ? b : b is not { } second ? a : Effectivity.Compare(first, second) >= 0 ? a : b;

    private static SerialNumber? Earliest(SerialNumber? a, SerialNumber? b) =>
        a is not { } first ? b : b is not { } second ? a : Effectivity.Compare(first, second) <= 0 ? a : b;
}
