using Traceability.Contracts.Scope;
using Traceability.Contracts.Facts;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;

namespace Traceability.Service.Features.Scope;

/// <summary>Turns a scope into its answer.</summary>
internal static class ScopeViews
{
    private const string NotRecorded = "not-recorded";

    private static readonly Domain.Judging.Place[] Places = Enum.GetValues<Domain.Judging.Place>();

    public static ScopeFactor Factor(SuspectFactor factor, Lot? lot)
    {
        var container = (factor as SuspectContainer)?.Container.Value;
        return new(container is null ? "lot" : "container", factor.Lot.Item.Value, factor.Lot.Lot.Value, container, lot?.Origin is not null);
    }

    public static ScopeTotals Totals(ScopeOutcome outcome, int? cleared)
    {
        var (members, whereabouts) = (outcome.Members, outcome.Whereabouts);
        var places = new (int Proven, int Possible)[Places.Length + 1];
        var (proven, clearNow) = (0, 0);
        for (var i = 0; i < members.Length; i++)
        {
            ref var count = ref places[whereabouts[i].Stands is { } stands ? (int)stands.Place : Places.Length];
            if (members[i].Verdict == ScopeVerdict.Proven)
            {
                count.Proven++;
                proven++;
            }
            else
            {
                count.Possible++;
            }

            clearNow += members[i].Now is null ? 1 : 0;
        }

        return new(
            members.Length,
            proven,
            members.Length - proven,
            clearNow,
            cleared,
            [
                .. places.Select((count, n) => new ScopePlaceTotal(n < Places.Length ? ScopeNames.Of(Places[n]) : NotRecorded, count.Proven, count.Possible))
                    .Where(t => t.Proven + t.Possible > 0).OrderBy(t => t.Place, StringComparer.Ordinal),
            ]);
    }

    public static Contracts.Scope.ScopeMember Member(ScopeWay way, Whereabouts whereabouts, IReadOnlyDictionary<EvidenceKey, EvidenceRow> evidence)
    {
        var member = way.Member;
        var path = ScopeWords.Path(way.Suspect, member.Best, evidence);
        var unit = Unit(member.Unit);
        return new(
            unit.Item,
            unit.Serial,
            ScopeNames.Of(member.Verdict),
            Now(member.Now),
            ScopeWords.Reason(member, path),
            member.From,
            member.To,
            Path(path),
            Place(whereabouts));
    }

    public static ScopeQuestionMember Member(FoundMember member, Whereabouts whereabouts, IReadOnlyDictionary<EvidenceKey, EvidenceRow> evidence)
    {
        var unit = Unit(member.Unit);
        return new(
            unit.Item,
            unit.Serial,
            ScopeNames.Of(member.Verdict),
            Now(member.Now),
            ScopeOutcome.Reason(member, evidence),
            member.From,
            member.To,
            [
                .. member.Ways.Select(w => new ScopeMemberWay(
                    w.Suspect.ToString()!, ScopeNames.Of(w.Member.Verdict), Path(ScopeWords.Path(w.Suspect, w.Member.Best, evidence)))),
            ],
            Place(whereabouts));
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

    private static string Now(ScopeVerdict? now) => now is { } verdict ? ScopeNames.Of(verdict) : "clear";

    private static IReadOnlyList<Contracts.Scope.ScopeHop> Path(ImmutableArray<Domain.Scope.ScopeHop> path) =>
    [
        .. path.Select((hop, i) => new Contracts.Scope.ScopeHop(
            Unit(hop.Unit), ScopeNames.Of(hop.Kind), i == path.Length - 1 ? null : Unit(hop.Source), Evidence(hop.Evidence))),
    ];

    public static ScopeWhereabouts Place(Whereabouts whereabouts) => new(
        PlaceOf(whereabouts),
        whereabouts.Stands?.Place == Domain.Judging.Place.InProcess ? whereabouts.Stands?.Step : null,
        whereabouts.Stands?.Since,
        whereabouts.Stands?.Consignee,
        whereabouts.Inside is { } inside ? Unit(inside) : null);

    private static string PlaceOf(Whereabouts whereabouts) =>
        whereabouts.Stands is { } stands ? ScopeNames.Of(stands.Place) : NotRecorded;

    public static UnitRef Unit(string name)
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
        row.Station)
    {
        Says = row.Says,
    };
}
