using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;

namespace Traceability.Domain.Judging;

/// <summary>One component in one position, from when to when.</summary>
internal sealed class Fitted(Code position, UnitKey component, StepCode? step, EffectiveFact source, Attempt? attempt)
{
    public Code Position { get; } = position;

    public UnitKey Component { get; } = component;

    public StepCode? Step { get; } = step;

    public EffectiveFact Source { get; } = source;

    public Attempt? Attempt { get; } = attempt;

    public DateTimeOffset From { get; } = source.At.ToUniversalTime();

    public DateTimeOffset? To { get; set; }

    /// <summary>The fact that removed it, or that put another in its place.</summary>
    public EffectiveFact? Ended { get; set; }

    /// <summary>The one that took its place though no removal is recorded; null if there is none.</summary>
    public Fitted? DisplacedBy { get; set; }

    /// <summary>By how much either time may be wrong.</summary>
    public TimeSpan Uncertainty
    {
        get
        {
            var into = UnitHistory.UncertaintyOf(Source);
            return Ended is { } ended && UnitHistory.UncertaintyOf(ended) is var outOf && outOf > into ? outOf : into;
        }
    }

    public bool Covers(DateTimeOffset at) => From <= at && (To is not { } to || to > at);
}

/// <summary>Which components were in the unit, from when to when.</summary>
internal sealed class InstallationFold
{
    private static readonly InstallationFold Nothing = new();

    public List<Fitted> Fitted { get; } = [];

    /// <summary>Removals of what was not inside.</summary>
    public List<EffectiveFact> StrayRemovals { get; } = [];

    public static InstallationFold Of(UnitHistory history)
    {
        List<(DateTimeOffset At, bool IsIn, int Order, EffectiveFact Source, Attempt? Attempt, Code Position, UnitKey Component, StepCode? Step)>? events = null;
        foreach (var attempt in history.Attempts)
        {
            foreach (var use in attempt.Record.Components.OrEmpty())
            {
                if (use.Component == default)
                {
                    continue;
                }

                events ??= [];
                events.Add((attempt.At, true, events.Count, attempt.Source, attempt, use.Position, use.Component, attempt.Record.Step));
            }
        }

        foreach (var fact in history.ComponentFacts)
        {
            events ??= [];
            if (fact.Fact is ComponentInstalled i)
            {
                events.Add((fact.At.ToUniversalTime(), true, events.Count, fact, null, i.Position, i.Component, i.Step));
            }
            else if (fact.Fact is ComponentRemoved r)
            {
                events.Add((fact.At.ToUniversalTime(), false, events.Count, fact, null, r.Position, r.Component, null));
            }
        }

        if (events is null)
        {
            return Nothing;
        }

        // In one moment what goes out goes before what comes in: a swap reported with one time is a swap.
        events.Sort(static (a, b) =>
        {
            var order = a.At.CompareTo(b.At);
            order = order != 0 ? order : a.IsIn.CompareTo(b.IsIn);
            return order != 0 ? order : a.Order.CompareTo(b.Order);
        });
        var fold = new InstallationFold();
        foreach (var e in events)
        {
            if (e.IsIn)
            {
                fold.PutIn(new(e.Position, e.Component, e.Step, e.Source, e.Attempt));
            }
            else
            {
                fold.TakeOut(e.Source, e.Component, e.At);
            }
        }

        return fold;
    }

    /// <summary>What was in the position at that time; null if nothing is recorded.</summary>
    public Fitted? At(Code position, DateTimeOffset at)
    {
        for (var i = Fitted.Count - 1; i >= 0; i--)
        {
            if (Fitted[i].Position == position && Fitted[i].Covers(at))
            {
                return Fitted[i];
            }
        }

        return null;
    }

    /// <summary>When something was first put into the position after that time; null if never.</summary>
    public Fitted? FirstAfter(Code position, DateTimeOffset after)
    {
        foreach (var fitted in Fitted)
        {
            if (fitted.Position == position && fitted.From > after)
            {
                return fitted;
            }
        }

        return null;
    }

    private void PutIn(Fitted next)
    {
        foreach (var inside in Fitted)
        {
            if (inside.To is not null || inside.Position != next.Position)
            {
                continue;
            }

            if (inside.Component == next.Component)
            {
                // Named again by a later attempt: it is still the same one.
                return;
            }

            inside.To = next.From;
            inside.Ended = next.Source;
            inside.DisplacedBy = next;
        }

        Fitted.Add(next);
    }

    private void TakeOut(EffectiveFact removal, UnitKey component, DateTimeOffset at)
    {
        var found = false;
        foreach (var inside in Fitted)
        {
            if (inside.To is null && inside.Component == component)
            {
                inside.To = at;
                inside.Ended = removal;
                found = true;
            }
        }

        if (!found)
        {
            StrayRemovals.Add(removal);
        }
    }
}
