using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Nonconformances;

/// <summary>Steps that a disposition re-opens: attempts at them up to then no longer count for what needs them.</summary>
/// <remarks>
/// A re-opening follows from the decision alone, not from whether the finding is still there: else it would depend on findings
/// that depend on it. To take it back, the decision is voided or another one is made.
/// </remarks>
internal sealed class Reopening
{
    private readonly UnitHistory _history;
    private readonly DateTimeOffset _from;
    private readonly DateTimeOffset? _to;
    private readonly HashSet<StepCode> _named;
    private readonly HashSet<StepCode> _steps;

    private Reopening(UnitHistory history, EffectiveFact fact, NonconformanceDisposed decision, DateTimeOffset? to)
    {
        _history = history;
        Decision = fact.Id;
        _from = fact.At.ToUniversalTime();
        _to = to;
        _named = [.. decision.Reopens.OrEmpty()];
        _steps = [.. _named];
        var epoch = history.Current;
        if (epoch.Revision is not { } revision)
        {
            return;
        }

        // What was built on a step that is done again was built on the old one.
        for (var i = 0; i < revision.Steps.Length; i++)
        {
            if (epoch.HasStep(history, i) && revision.Needed[i].Any(n => _named.Contains(revision.Steps[n].Code)) && history.LastDone(epoch, i, _from) is not null)
            {
                _steps.Add(revision.Steps[i].Code);
            }
        }
    }

    /// <summary>The fact that re-opened them.</summary>
    public Guid Decision { get; }

    /// <summary>The re-openings of a unit; null for none.</summary>
    public static List<Reopening>? Of(UnitHistory history)
    {
        List<Reopening>? found = null;
        var facts = history.NonconformanceFacts;
        for (var i = 0; i < facts?.Count; i++)
        {
            if (facts[i].Fact is NonconformanceDisposed { Disposition: Disposition.Rework or Disposition.Repair } decision)
            {
                var next = facts.Skip(i + 1).FirstOrDefault(f => f.Fact is INonconformanceDecision d && d.Nonconformance == decision.Nonconformance);
                (found ??= []).Add(new(history, facts[i], decision, next?.At.ToUniversalTime()));
            }
        }

        return found;
    }

    /// <summary>Whether it makes an attempt, the last one at its step by that time, count for nothing then.</summary>
    public bool Undoes(Attempt last, DateTimeOffset by) =>
        last.At <= _from && _from <= by && (_to is not { } to || by < to) && _steps.Contains(last.Record.Step);

    /// <summary>The steps that are still to be done again, in the order of the routing; and, when all are, the attempt that was the last.</summary>
    public (ImmutableArray<StepCode> Awaited, Attempt? Last) Progress()
    {
        var revision = _history.Current.Revision;
        var redone = new Dictionary<StepCode, Attempt>();
        foreach (var step in _steps)
        {
            if (Redone(step) is { } attempt)
            {
                redone.Add(step, attempt);
            }
        }

        // What was redone before, or without, something that it needs is to be done once more; and so is what needs that.
        while (redone.Values.FirstOrDefault(a => !HasWhatItNeeds(a, redone, revision)) is { } early)
        {
            redone.Remove(early.Record.Step);
        }

        ImmutableArray<StepCode> awaited =
        [
            .. _steps.Where(s => !redone.ContainsKey(s)).OrderBy(s => (uint)(revision?.IndexOf(s) ?? -1)).ThenBy(s => s.ToString(), StringComparer.Ordinal),
        ];
        return (awaited, awaited.IsEmpty ? redone.Values.MaxBy(a => (a.At, a.Id)) : null);
    }

    // The last attempt counts. A step that the decision names is redone by rework; what depends on it, by an attempt of either kind.
    private Attempt? Redone(StepCode step) =>
        _history.FindTrack(step) is { Attempts: [.., var last] } && last.At > _from && last.IsPassed
            && (last.Record.IsRework || !_named.Contains(step)) && _history.Counts(last, _history.Current)
            ? last
            : null;

    private bool HasWhatItNeeds(Attempt attempt, Dictionary<StepCode, Attempt> redone, RevisionIndex? revision)
    {
        if (revision?.IndexOf(attempt.Record.Step) is not { } index || index < 0)
        {
            return true;
        }

        foreach (var needed in revision.Needed[index])
        {
            var step = revision.Steps[needed].Code;
            if (_steps.Contains(step) && (!redone.TryGetValue(step, out var first) || first.At > attempt.Began))
            {
                return false;
            }
        }

        return true;
    }
}
