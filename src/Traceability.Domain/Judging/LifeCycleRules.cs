using Traceability.Domain.Facts;
using Traceability.Domain.ProductUnits;

namespace Traceability.Domain.Judging;

/// <summary>Releases, shipments and returns that did not fit where the unit stood. What is done to it otherwise is judged where it is done.</summary>
internal static class LifeCycleRules
{
    public static void Judge(UnitHistory history, FindingSink sink)
    {
        if (!history.HasMoved)
        {
            return;
        }

        var standing = Standing.New;
        var holds = default(StandingHolds);
        foreach (var fact in history.Facts)
        {
            if (fact.IsVoided || LifeCycle.ActOf(fact.Fact) is not { } act)
            {
                continue;
            }

            var cell = LifeCycle.Of(standing, act);
            if (act is UnitAct.Release or UnitAct.Ship or UnitAct.Return)
            {
                foreach (var kind in cell.Findings)
                {
                    sink.Add(fact, null, kind, string.Empty, null, Sentence(kind, fact), ("record", fact.Id.ToString()), ("at", Say.Time(fact.At)));
                }
            }

            standing = LifeCycle.Next(cell, fact.Fact, ref holds);
        }

        ReleaseRules(history, sink);
    }

    // By what is known now, was everything there when it was signed? A late fact or a correction can tell otherwise; the release stays.
    private static void ReleaseRules(UnitHistory history, FindingSink sink)
    {
        foreach (var fact in history.Departures)
        {
            if (fact.Fact is not UnitReleased { Signature: not null })
            {
                continue;
            }

            var context = ReleaseContext.Of(AsOf.Before(history.Unit, fact), history.References, fact.At);
            foreach (var blocker in ReleaseChecks.Of(context))
            {
                sink.Add(
                    fact,
                    blocker.Step,
                    FindingKinds.ReleasedIncomplete,
                    blocker.Code,
                    null,
                    $"Released, and by what is known now: {blocker.Detail}",
                    ("record", fact.Id.ToString()),
                    ("reason", blocker.Rule.Length == 0 ? blocker.Code : $"{blocker.Code} {blocker.Rule}"));
            }
        }
    }

    private static string Sentence(string kind, EffectiveFact fact)
    {
        var at = Say.Time(fact.At);
        return kind switch
        {
            FindingKinds.ReleasedOnHold => $"The unit was released at {at}, while it was on hold.",
            FindingKinds.ReleasedWhileShipped => $"The unit was released at {at}, when it was recorded as shipped and not as back.",
            FindingKinds.ShippedUnreleased => $"The unit was shipped at {at} to {To(fact)}, and was not released at that time.",
            FindingKinds.ShippedOnHold => $"The unit was shipped at {at} to {To(fact)}, while it was on hold.",
            FindingKinds.ShippedTwice => $"The unit was shipped at {at} to {To(fact)}, when it was recorded as shipped already and not as back.",
            FindingKinds.ReturnedNotShipped => $"The unit came back at {at}, and was not recorded as shipped.",
            _ => $"The unit was released, shipped or returned at {at}, after it was scrapped.",
        };
    }

    private static string To(EffectiveFact fact) => (fact.Fact as UnitShipped)?.Consignee ?? "(nobody)";
}
