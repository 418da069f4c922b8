using System.Globalization;
using System.Text;
using Traceability.Domain.Judging;

namespace Traceability.Domain.Scope;

/// <summary>One hop of an evidence path: from a unit to what is inside it, or to the lot that was used on it.</summary>
/// <param name="Unit">The unit, as item/serial.</param>
/// <param name="Kind">How the suspect got there.</param>
/// <param name="Source">What it came from: the unit inside, or the suspect itself.</param>
/// <param name="Evidence">What the row says that tells of it.</param>
/// <param name="IsInDoubt">Whether the use fits what was asked for can't be told.</param>
public sealed record ScopeHop(string Unit, HopKind Kind, string Source, EvidenceRow Evidence, bool IsInDoubt);

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
    public static ImmutableArray<ScopeHop> Path(SingleSuspect suspect, Reach reach, IReadOnlyDictionary<EvidenceKey, EvidenceRow> evidence)
    {
        var hops = ImmutableArray.CreateBuilder<ScopeHop>();
        for (var hop = reach; hop is not null; hop = hop.Via)
        {
            hops.Add(new(hop.Unit, hop.Kind, hop.Via?.Unit ?? suspect.ToString()!, evidence[hop.Evidence], hop.IsInDoubt));
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

        if (path[^1].IsInDoubt)
        {
            words.Append(" Whether that is what was asked for, at the time and place asked for, the record does not settle.");
        }
        else if (member.Verdict == ScopeVerdict.Possible && path.All(h => h.Kind is HopKind.Recorded or HopKind.Sublot or HopKind.EachOfSeveral or HopKind.Installed
            or HopKind.Itself or HopKind.ToolUsed or HopKind.Worked or HopKind.Measured or HopKind.IntervalEnded))
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

    /// <summary>Why the unit is a member of a combination, in sentences for a person.</summary>
    public static string Reason(FoundMember member, IReadOnlyDictionary<EvidenceKey, EvidenceRow> evidence)
    {
        ArgumentNullException.ThrowIfNull(evidence);
        var reasons = member.Ways.Take(member.Together).Select(w => Reason(w.Member, Path(w.Suspect, w.Member.Best, evidence))).Distinct(StringComparer.Ordinal);
        return string.Join(" And: ", reasons) + (member.MayBeExcepted ? " What is excepted may have reached it, too." : string.Empty);
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
        HopKind.OwnLotMissing => $"{OwnLotMissing(hop)}; it could have been {hop.Source}.",
        HopKind.ContainerMissing when hop.Evidence.GapReason is not null => $"{Missing(hop, "container")}; {hop.Source} could have been used there then.",
        HopKind.ContainerMissing => $"{At(hop)} names lot {hop.Evidence.Lot} and no container; {hop.Source} could have been used there then.",
        HopKind.PieceMissing => $"{Missing(hop, "serial")}; a piece of {hop.Source} could have been put in there then.",
        HopKind.ToolUsed or HopKind.Worked => $"{At(hop)} names {hop.Evidence.Says}.",
        HopKind.ToolMissing => $"{MissingWork(hop, $"tool for {hop.Evidence.What}")}; {hop.Source} could have been used there then.",
        HopKind.WorkMissing when hop.Evidence.GapReason == GapReason.NotRecorded =>
            $"Step {hop.Evidence.Step} of {hop.Unit} was started, and no completion by the same person at the same station follows; it could have been {hop.Source}.",
        HopKind.WorkMissing => $"{MissingWork(hop, "work")}; it could have been {hop.Source}.",
        HopKind.Measured => $"{At(hop)} gives {hop.Evidence.What} as {hop.Evidence.Says}.",
        HopKind.MeasurementMissing => $"{MissingWork(hop, $"{hop.Evidence.What}")}; it could have been {hop.Source}.",
        HopKind.IntervalEnded => $"Interval {hop.Evidence.What} of {hop.Unit}, which ends at step {hop.Evidence.Step}, {hop.Evidence.Says}.",
        HopKind.IntervalMissing => $"{MissingWork(hop, $"length of interval {hop.Evidence.What}")}; it could have been {hop.Source}.",
        HopKind.Itself => $"{hop.Unit} is suspected itself.",
        HopKind.Installed => $"{hop.Source} was put into {hop.Unit} at position {hop.Evidence.What} on {Time(hop.Evidence.From)}{Until(hop.Evidence.To)}.",
        HopKind.SerialMissing => $"{Missing(hop, "serial")}; a reached unit such as {hop.Source} could have been put in and is not known to have been elsewhere.",
        _ => throw new System.Diagnostics.UnreachableException(),
    };

    private static string At(ScopeHop hop) =>
        hop.Evidence.Step is null ? $"The record of {hop.Unit}" : $"The record of step {hop.Evidence.Step} on {hop.Unit}";

    private static string MissingWork(ScopeHop hop, string what) => hop.Evidence.GapReason switch
    {
        GapReason.Voided => $"The record of step {hop.Evidence.Step} of {hop.Unit} is void, so its {what} is not known",
        GapReason.StepNotRecorded => $"Step {hop.Evidence.Step} of {hop.Unit} is not recorded, so its {what} is not known",
        GapReason.Unreadable => $"A record of {hop.Unit} can't be read, so the {what} at step {hop.Evidence.Step} is not known",
        _ => $"No {what} is recorded at step {hop.Evidence.Step} of {hop.Unit}",
    };

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

    private static string OwnLotMissing(ScopeHop hop) => hop.Evidence.GapReason switch
    {
        _ when hop.Evidence.What is { } position => $"Nothing is recorded of the component that was put into {hop.Unit} at position {position}, so the lot that it came in is not known",
        GapReason.Voided => $"The record that opened {hop.Unit} is void, so the lot that it came in is not known",
        GapReason.Unreadable => $"A record of {hop.Unit} can't be read, so the lot that it came in is not known",
        _ => $"No record names the lot that {hop.Unit} itself came in",
    };

    private static string Until(DateTimeOffset? to) => to is { } end ? $" and taken out on {Time(end)}" : string.Empty;

    internal static string Duration(TimeSpan span) => System.Xml.XmlConvert.ToString(span);

    internal static string Time(DateTimeOffset at) => at.UtcDateTime.ToString("yyyy-MM-dd HH:mm:ss'Z'", CultureInfo.InvariantCulture);
}
