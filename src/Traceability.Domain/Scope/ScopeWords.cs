using System.Globalization;
using System.Text;
using Traceability.Domain.Judging;

namespace Traceability.Domain.Scope;

/// <summary>One hop of an evidence path: from a unit to what is inside it, or to the lot that was used on it.</summary>
/// <param name="Unit">The unit, as item/serial.</param>
/// <param name="Kind">How the suspect got there.</param>
/// <param name="Source">What it came from: the unit inside, or the suspect itself.</param>
/// <param name="Evidence">What the row says that tells of it.</param>
public sealed record ScopeHop(string Unit, HopKind Kind, string Source, EvidenceRow Evidence);

/// <summary>Evidence paths, and what they mean in words.</summary>
public static class ScopeWords
{
    /// <summary>The keys of all rows that the way consists of.</summary>
    public static IEnumerable<EvidenceKey> Keys(Reach reach)
    {
        for (var hop = reach; hop is not null; hop = hop.Via)
        {
            yield return hop.Evidence;
        }
    }

    /// <summary>The way from the unit (first) to the suspect (last).</summary>
    public static ImmutableArray<ScopeHop> Path(SuspectFactor factor, Reach reach, IReadOnlyDictionary<EvidenceKey, EvidenceRow> evidence)
    {
        var hops = ImmutableArray.CreateBuilder<ScopeHop>();
        for (var hop = reach; hop is not null; hop = hop.Via)
        {
            hops.Add(new(hop.Unit, hop.Kind, hop.Via?.Unit ?? factor.ToString()!, evidence[hop.Evidence]));
        }

        return hops.ToImmutable();
    }

    /// <summary>Why the unit is a member, in sentences for a person.</summary>
    public static string Reason(ScopeMember member, ImmutableArray<ScopeHop> path)
    {
        var words = new StringBuilder();
        for (var i = path.Length - 1; i >= 0; i--)
        {
            words.Append(words.Length == 0 ? string.Empty : " ").Append(Sentence(path[i]));
        }

        if (member.Verdict == ScopeVerdict.Possible && path.All(h => h.Kind is HopKind.Recorded or HopKind.Sublot or HopKind.EachOfSeveral or HopKind.Installed))
        {
            words.Append(" Whether the use came before or after a component was taken out is not certain.");
        }

        if (member.Now is null)
        {
            words.Append(CultureInfo.InvariantCulture, $" Exposed then and clear now: until {Time(member.To!.Value)}.");
        }
        else if (member.Now != member.Verdict)
        {
            words.Append(" Exposed then; whether it is now is only possible.");
        }

        return words.ToString();
    }

    private static string Sentence(ScopeHop hop) => hop.Kind switch
    {
        HopKind.Recorded when hop.Evidence.Step is null => $"{hop.Unit} is itself a piece of {hop.Source}.",
        HopKind.Recorded => $"{At(hop)} names {hop.Source}.",
        HopKind.OneOfSeveral => $"{At(hop)} names {hop.Source} as one of several, one of which was used.",
        HopKind.Sublot => $"{At(hop)} names lot {hop.Evidence.Lot}; every draw of it is of {hop.Source}, or a mix that holds it.",
        HopKind.MixedLot => $"{At(hop)} names lot {hop.Evidence.Lot}, which material of {hop.Source} went into; which of it was used can't be told.",
        HopKind.EachOfSeveral => $"{At(hop)} names several lots, one of which was used; each is {hop.Source}, came wholly from it, or is a mix that holds it.",
        HopKind.LotMissing => $"{Missing(hop, "lot")}; {hop.Source} could have been used there then.",
        HopKind.ContainerMissing when hop.Evidence.GapReason is not null => $"{Missing(hop, "container")}; {hop.Source} could have been used there then.",
        HopKind.ContainerMissing => $"{At(hop)} names lot {hop.Evidence.Lot} and no container; {hop.Source} could have been used there then.",
        HopKind.PieceMissing => $"{Missing(hop, "serial")}; a piece of {hop.Source} could have been put in there then.",
        HopKind.Installed => $"{hop.Source} was put into {hop.Unit} at position {hop.Evidence.What} on {Time(hop.Evidence.From)}{Until(hop.Evidence.To)}.",
        HopKind.SerialMissing => $"{Missing(hop, "serial")}; a reached unit such as {hop.Source} could have been put in and is not known to have been elsewhere.",
        _ => throw new System.Diagnostics.UnreachableException(),
    };

    private static string At(ScopeHop hop) =>
        hop.Evidence.Step is null ? $"The record of {hop.Unit}" : $"The record of step {hop.Evidence.Step} on {hop.Unit}";

    private static string Missing(ScopeHop hop, string what)
    {
        var place = $"{hop.Evidence.What} at step {hop.Evidence.Step} of {hop.Unit}";
        return hop.Evidence.GapReason switch
        {
            GapReason.Voided => $"The record that named the {what} for {place} is void",
            GapReason.StepNotRecorded => $"Step {hop.Evidence.Step} of {hop.Unit} is not recorded, so the {what} for {hop.Evidence.What} is not known",
            GapReason.Unreadable => $"The record that should name the {what} for {place} can't be read",
            _ => $"No {what} is recorded for {place}",
        };
    }

    private static string Until(DateTimeOffset? to) => to is { } end ? $" and taken out on {Time(end)}" : string.Empty;

    private static string Time(DateTimeOffset at) => at.UtcDateTime.ToString("yyyy-MM-dd HH:mm:ss'Z'", CultureInfo.InvariantCulture);
}
