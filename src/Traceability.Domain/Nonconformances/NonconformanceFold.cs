using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;

namespace Traceability.Domain.Nonconformances;

/// <summary>The nonconformances of a unit, from its findings and its facts in the order in which they happened.</summary>
internal sealed class NonconformanceFold
{
    private readonly UnitHistory _history;
    private readonly Dictionary<NonconformanceId, Case> _cases = [];

    private NonconformanceFold(UnitHistory history) => _history = history;

    /// <summary>The nonconformances, by when what they rest on happened.</summary>
    public static ImmutableArray<Nonconformance> Of(UnitHistory history, ImmutableArray<Finding> findings)
    {
        if (history.NonconformanceFacts is null && !findings.Any(NonconformanceRules.IsNonconformance))
        {
            return [];
        }

        var fold = new NonconformanceFold(history);
        foreach (var finding in findings.Where(NonconformanceRules.IsNonconformance))
        {
            fold.Add(NonconformanceId.OfFinding(finding.Record, finding.Kind, finding.Rule), finding);
        }

        foreach (var fact in history.NonconformanceFacts ?? [])
        {
            fold.Take(fact);
        }

        Case[] cases = [.. fold._cases.Values];
        Array.Sort(cases, Compare);
        Concede(cases);
        var scrapped = history.Facts.FirstOrDefault(f => f is { IsVoided: false, Fact: UnitScrapped });
        return [.. cases.Select(c => fold.Judge(c, scrapped))];
    }

    /// <summary>The findings, those under a concession marked.</summary>
    public static ImmutableArray<Finding> Mark(ImmutableArray<Finding> findings, ImmutableArray<Nonconformance> nonconformances)
    {
        if (!nonconformances.Any(n => n.Concession is not null))
        {
            return findings;
        }

        var conceded = nonconformances.Where(n => n.Concession is not null).ToDictionary(n => n.Id, n => n.Concession);
        return [.. findings.Select(f => conceded.TryGetValue(NonconformanceId.OfFinding(f.Record, f.Kind, f.Rule), out var concession) ? f with { Concession = concession } : f)];
    }

    private void Add(NonconformanceId id, Finding f) =>
        _cases.TryAdd(id, new(new(id, NonconformanceState.Open, f.Kind, f.Rule, f.Step, f.Attempt, f.Record, f.At, f.Message)));

    private void Take(EffectiveFact fact)
    {
        switch (fact.Fact)
        {
            case NonconformanceReported report:
                var id = NonconformanceId.OfReport(fact.Id);
                var reported = new Nonconformance(
                    id, NonconformanceState.Open, NonconformanceRules.Reported, report.Defect.ToString(), report.Step, 0, fact.Id, fact.At.ToUniversalTime(), report.Description);

                // A decision may bear an earlier time than the report, by a clock that was off.
                var decision = _cases.GetValueOrDefault(id)?.Decision;
                _cases[id] = new(reported) { IsGone = fact.IsVoided, Decision = decision };
                break;
            case INonconformanceDecision decided:
                if (!_cases.TryGetValue(decided.Nonconformance, out var known))
                {
                    _cases.Add(decided.Nonconformance, known = Gone(decided.Nonconformance, fact));
                }

                known.Decision = fact;
                break;
        }
    }

    // What a decision was made about, as far as its name and the record tell.
    private Case Gone(NonconformanceId id, EffectiveFact decision)
    {
        id.TrySplit(out var record, out var kind, out var rule);
        var source = _history.Facts.FirstOrDefault(f => f.Id == record);
        var step = source?.Fact switch
        {
            StepCompleted completed => completed.Step,
            StepStarted started => started.Step,
            _ => (StepCode?)null,
        };
        var at = (source?.At ?? decision.At).ToUniversalTime();
        return new(new(id, NonconformanceState.Moot, kind, rule, step, 0, record, at, "What it rested on is not there any more.")) { IsGone = true };
    }

    // A concession covers the nonconformances of its kind from the one on that it was given for, in the order in which they happened.
    private static void Concede(Case[] cases)
    {
        for (var i = 0; i < cases.Length; i++)
        {
            if (cases[i] is not { IsGone: false, Decision.Fact: NonconformanceDisposed { Disposition: Disposition.UseAsIs, Concession: { } concession } })
            {
                continue;
            }

            var count = 0;
            foreach (var other in cases.AsSpan(i))
            {
                if (other.IsGone || other.Subject != cases[i].Subject)
                {
                    continue;
                }

                if (++count > concession.CountMax)
                {
                    break;
                }

                if ((other.Decision is null || other == cases[i]) && other.ConcededBy is null && !(other.Content.At >= concession.Until))
                {
                    other.ConcededBy = cases[i];
                }
            }
        }
    }

    private Nonconformance Judge(Case c, EffectiveFact? scrapped)
    {
        var disposed = c.Decision?.Fact as NonconformanceDisposed;
        var known = c.Content with
        {
            Disposition = disposed?.Disposition,
            Decision = c.Decision?.Id,
            DecidedAt = c.Decision?.At.ToUniversalTime(),
            DecidedBy = c.Decision?.Fact.Person,
        };
        if (c.IsGone)
        {
            return known with { State = NonconformanceState.Moot };
        }

        if (c.ConcededBy?.Decision is { Fact: NonconformanceDisposed { Concession: { } concession } } permission)
        {
            // What came up under a permission that was there already was closed as it came up.
            var at = permission.At.ToUniversalTime();
            return Ended(known, NonconformanceState.Closed, at > known.At ? at : known.At, permission.Id) with { Concession = concession.Number };
        }

        if (scrapped is not null)
        {
            return Ended(known, NonconformanceState.Closed, scrapped.At.ToUniversalTime(), scrapped.Id);
        }

        return c.Decision is null ? Undecided(known)
            : disposed is null ? known with { State = NonconformanceState.UnderDecision }
            : Decided(known, c.Decision, disposed.Disposition);
    }

    private Nonconformance Undecided(Nonconformance known)
    {
        var isLater = known.Step is { } step && known.Kind != NonconformanceRules.Reported
            && _history.FindTrack(step) is { Attempts: [.., var last] } && last.IsPassed
            && (known.Attempt > 0 ? last.Number > known.Attempt : last.At > known.At)
            ? last
            : null;
        if (isLater is { } passed)
        {
            return Ended(known, NonconformanceState.Settled, passed.At, passed.Id);
        }

        // What was found on a component is out with it.
        return _history.Installed.Fitted.Find(f => f.To is not null && f.Source.Id == known.Record && IsAt(f, known.Rule)) is { To: { } to, Ended: { } ended }
            ? Ended(known, NonconformanceState.Settled, to, ended.Id)
            : known;
    }

    private static bool IsAt(Fitted fitted, string position) => string.Equals(fitted.Position.ToString(), position, StringComparison.Ordinal);

    private Nonconformance Decided(Nonconformance known, EffectiveFact decision, Disposition disposition)
    {
        known = known with { State = NonconformanceState.Disposed };
        switch (disposition)
        {
            case Disposition.Rework or Disposition.Repair:
                var (awaited, last) = _history.Reopenings!.Find(r => r.Decision == decision.Id)!.Progress();
                return last is null ? known with { Awaited = awaited } : Ended(known, NonconformanceState.Closed, last.At, last.Id);
            case Disposition.ReturnToSupplier:
                var left = _history.Departures.Find(d => d.Fact is UnitShipped && d.At >= decision.At);
                return left is null ? known : Ended(known, NonconformanceState.Closed, left.At.ToUniversalTime(), left.Id);
            default:
                return known;
        }
    }

    // The order is total, so that it is the same in every run.
    private static int Compare(Case a, Case b)
    {
        var order = EffectiveFacts.Compare(a.Content.At, a.Content.Record, b.Content.At, b.Content.Record);
        return order != 0 ? order : string.CompareOrdinal(a.Content.Id.ToString(), b.Content.Id.ToString());
    }

    private static Nonconformance Ended(Nonconformance known, NonconformanceState state, DateTimeOffset at, Guid by) =>
        known with { State = state, EndedAt = at, EndedBy = by };

    private sealed class Case(Nonconformance content)
    {
        public Nonconformance Content { get; } = content;

        /// <summary>What it rests on is not there, or does not count any more.</summary>
        public bool IsGone { get; init; }

        /// <summary>The last decision about it.</summary>
        public EffectiveFact? Decision { get; set; }

        /// <summary>The one whose concession covers it.</summary>
        public Case? ConcededBy { get; set; }

        /// <summary>What a concession is given for.</summary>
        public (string Kind, string Rule, StepCode? Step) Subject => (Content.Kind, Content.Rule, Content.Step);
    }
}
