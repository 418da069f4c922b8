using System.Globalization;
using Traceability.Contracts;
using Traceability.Contracts.Scope;
using Traceability.Contracts.Facts;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;
using Member = Traceability.Domain.Scope.ScopeMember;

namespace Traceability.Service.Features.Scope;

/// <summary>Turns a scope into its answer.</summary>
internal static class ScopeViews
{
    private const string NotRecorded = "not-recorded";

    public static ScopeFactor Factor(SuspectFactor factor, Lot? lot)
    {
        var container = (factor as SuspectContainer)?.Container.Value;
        return new(container is null ? "lot" : "container", factor.Lot.Item.Value, factor.Lot.Lot.Value, container, lot?.Origin is not null);
    }

    public static ScopeTotals Totals(ImmutableArray<Member> members, ImmutableArray<Whereabouts> whereabouts, int cleared)
    {
        var places = new SortedDictionary<string, (int Proven, int Possible)>(StringComparer.Ordinal);
        var (proven, clearNow) = (0, 0);
        for (var i = 0; i < members.Length; i++)
        {
            var isProven = members[i].Verdict == ScopeVerdict.Proven;
            var place = PlaceOf(whereabouts[i]);
            var count = places.GetValueOrDefault(place);
            places[place] = isProven ? (count.Proven + 1, count.Possible) : (count.Proven, count.Possible + 1);
            proven += isProven ? 1 : 0;
            clearNow += members[i].Now is null ? 1 : 0;
        }

        return new(
            members.Length,
            proven,
            members.Length - proven,
            clearNow,
            cleared,
            [.. places.Select(p => new ScopePlaceTotal(p.Key, p.Value.Proven, p.Value.Possible))]);
    }

    public static Contracts.Scope.ScopeMember Member(
        SuspectFactor factor, Member member, Whereabouts whereabouts, IReadOnlyDictionary<EvidenceKey, EvidenceRow> evidence)
    {
        var path = ScopeWords.Path(factor, member.Best, evidence);
        var unit = Unit(member.Unit);
        return new(
            unit.Item,
            unit.Serial,
            ScopeNames.Of(member.Verdict),
            member.Now is { } now ? ScopeNames.Of(now) : "clear",
            ScopeWords.Reason(member, path),
            member.From,
            member.To,
            [
                .. path.Select((hop, i) => new Contracts.Scope.ScopeHop(
                    Unit(hop.Unit), ScopeNames.Of(hop.Kind), i == path.Length - 1 ? null : Unit(hop.Source), Evidence(hop.Evidence))),
            ],
            new(
                PlaceOf(whereabouts),
                whereabouts.Stands?.Place == Domain.Judging.Place.InProcess ? whereabouts.Stands?.Step : null,
                whereabouts.Stands?.Since,
                whereabouts.Stands?.Consignee,
                whereabouts.Inside is { } inside ? Unit(inside) : null));
    }

    public static Contracts.Scope.ClearedUnit Cleared(Domain.Scope.ClearedUnit cleared)
    {
        var unit = Unit(cleared.Unit);
        return new(unit.Item, unit.Serial, Evidence(cleared.Evidence));
    }

    public static ScopePresence Presence(PresenceWindow window) => new(
        window.From == DateTimeOffset.MinValue ? null : window.From,
        window.To == DateTimeOffset.MaxValue ? null : window.To,
        [.. window.Stations.Select(s => s.Value)]);

    /// <summary>What a reader must know of the answer.</summary>
    public static IReadOnlyList<string> Remarks(ScopeResult scope, Lot? lot, Completeness completeness)
    {
        var remarks = new List<string>();
        switch (scope.Presence.Doubt)
        {
            case PresenceDoubt.NeverReceived:
                remarks.Add(
                    $"Lot {scope.Factor.Lot} was never received here, so when and where it could have been used is not known: "
                    + "every missing record for its item counts as possible.");
                break;
            case PresenceDoubt.Unreadable:
                remarks.Add(
                    $"A stored fact about lot {scope.Factor.Lot} can't be read, so when and where it could have been used is not known: "
                    + "every missing record for its item counts as possible.");
                break;
        }

        if (scope.Factor is SuspectContainer { Container: var container } && !scope.IsNamed && lot?.Opening(container) is null)
        {
            remarks.Add($"Container {container} was never opened by record and no record names it: check its number.");
        }

        if (completeness.UnreadableUnits > 0)
        {
            remarks.Add(string.Create(
                CultureInfo.InvariantCulture,
                $"{completeness.UnreadableUnits} units are touched by something that can't be read: their part of the answer may be incomplete, and none of them counts as cleared."));
        }

        if (completeness.RejudgementsPending > 0)
        {
            remarks.Add(string.Create(
                CultureInfo.InvariantCulture,
                $"{completeness.RejudgementsPending} units wait to be judged again after a change elsewhere: ask again for what that changes."));
        }

        return remarks;
    }

    private static string PlaceOf(Whereabouts whereabouts) =>
        whereabouts.Stands is { } stands ? ScopeNames.Of(stands.Place) : NotRecorded;

    private static UnitRef Unit(string name)
    {
        var key = UnitKey.Parse(name);
        return new() { Item = key.Item.Value, Serial = key.Serial.Value };
    }

    private static ScopeEvidence Evidence(EvidenceRow row) => new(
        row.Record == Guid.Empty ? null : row.Record,
        row.Step,
        row.What,
        row.Lot,
        row.Container,
        row.GapReason is { } reason ? ScopeNames.Of(reason) : null,
        row.From,
        row.To,
        row.Station);
}
