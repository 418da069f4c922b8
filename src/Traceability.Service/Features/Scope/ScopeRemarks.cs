using System.Globalization;
using Traceability.Contracts;
using Traceability.Domain.Facts;
using Traceability.Domain.Scope;
using Traceability.Service.Features.Scope.Reconciling;

namespace Traceability.Service.Features.Scope;

/// <summary>What a reader must know of a scope, in words.</summary>
internal static class ScopeRemarks
{
    /// <summary>All of it; what holds of several suspects, once.</summary>
    public static IEnumerable<string> Of(ScopeFound found, ScopeKnowledge knowledge, Completeness completeness, UnknownInside unknown) =>
        found.Scopes.SelectMany(s => Of(s, knowledge)).Concat(Of(completeness)).Concat(Of(unknown)).Distinct(StringComparer.Ordinal)
            .Concat(found.Scopes.OfType<LotScopeResult>().DistinctBy(s => s.Factor).Select(s => LotReconciliations.Warning(s, knowledge)).OfType<string>());

    private static IEnumerable<string> Of(ScopeResult scope, ScopeKnowledge knowledge)
    {
        if (scope is not LotScopeResult lot)
        {
            foreach (var remark in OfWork(scope, knowledge))
            {
                yield return remark;
            }

            yield break;
        }

        switch (lot.Presence.Doubt)
        {
            case PresenceDoubt.NeverReceived:
                yield return
                    $"Lot {lot.Factor.Lot} was never received here, so when and where it could have been used is not known: "
                    + "every missing record for its item counts as possible.";
                break;
            case PresenceDoubt.Unreadable:
                yield return
                    $"A stored fact about lot {lot.Factor.Lot} can't be read, so when and where it could have been used is not known: "
                    + "every missing record for its item counts as possible.";
                break;
        }

        if (lot.Factor is SuspectContainer { Container: var container } && !scope.IsNamed
            && knowledge.Lot(lot.Factor.Lot)?.Opening(container) is null)
        {
            yield return $"Container {container} was never opened by record and no record names it: check its number.";
        }
    }

    private static IEnumerable<string> OfWork(ScopeResult scope, ScopeKnowledge knowledge)
    {
        if (!scope.IsNamed)
        {
            yield return $"No record is of this: {scope.Suspect}. Check what it names.";
        }

        switch (scope.Suspect)
        {
            case SuspectTool { Times: ToolTimes.SinceLastGood } tool
                when knowledge.Tools.GetValueOrDefault(tool.Tool)?.Effective.Any(f => !f.IsVoided && f.Fact is UnreadableFact) != false:
                yield return $"When tool {tool.Tool} was last shown good is not known, because it was never described or a stored fact about it can't be read: all its uses count as possible.";
                break;
            case SuspectInterval { LongerThan: not null }:
                yield return "Intervals count once they have ended, and where their start or end should be recorded and isn't. One that is still open is not in the answer.";
                break;
        }
    }

    private static IEnumerable<string> Of(UnknownInside unknown)
    {
        if (unknown.Count > 0)
        {
            yield return string.Create(
                CultureInfo.InvariantCulture,
                $"Units that hold a component of which nothing is recorded: {(unknown.Count > UnknownInside.CountMax ? $"more than {UnknownInside.CountMax}" : unknown.Count)}, {unknown.First} first. Such a component may be of any lot of its item; if it was built here, what was used on it can't be told, and the answer can't be complete.");
        }
    }

    private static IEnumerable<string> Of(Completeness completeness)
    {
        if (completeness.UnreadableUnits > 0)
        {
            yield return string.Create(
                CultureInfo.InvariantCulture,
                $"{completeness.UnreadableUnits} units are touched by something that can't be read: their part of the answer may be incomplete, and none of them counts as cleared.");
        }

        if (completeness.RejudgementsPending > 0)
        {
            yield return string.Create(
                CultureInfo.InvariantCulture,
                $"{completeness.RejudgementsPending} units wait to be judged again after a change elsewhere: ask again for what that changes.");
        }
    }
}
