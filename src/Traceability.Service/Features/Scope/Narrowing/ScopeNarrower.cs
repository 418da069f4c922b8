using System.Globalization;
using Npgsql;
using Traceability.Contracts.Narrowing;
using Traceability.Domain.Narrowing;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;
using Traceability.Service.Storage.Answers;

namespace Traceability.Service.Features.Scope.Narrowing;

/// <summary>Answers how a scope would shrink, from one snapshot of the database and within a bounded time.</summary>
internal sealed class ScopeNarrower(AnswerDatabase database, ScopeRunner runner, TimeProvider clock)
{
    // What is looked at of a scope's ways to propose narrower questions.
    private const int UsesMax = 5_000;

    // No try is begun after this; what is running then is finished.
    private static readonly TimeSpan TimeMax = TimeSpan.FromSeconds(5);

    /// <summary>The answer, or the refusal that names every suspect of which nothing is known.</summary>
    public async Task<(NarrowingAnswer? Answer, Refusal? Refusal)> AnswerAsync(Narrowed question, CancellationToken cancellation)
    {
        var began = clock.GetTimestamp();
        await using var session = await database.OpenAsync(cancellation);
        var snapshot = session.Connection;
        var rows = runner.Rows(snapshot);
        var source = new WhatIfSource(rows);
        var (outcome, refusal) = await runner.AskAsync(snapshot, rows, source, question.Suspect, "/suspect", cancellation);
        if (outcome is null)
        {
            return (null, refusal);
        }

        var (asked, unknown) = await AskAsync(snapshot, source, outcome, question.Alternatives, () => true, cancellation);
        if (unknown is not null)
        {
            return (null, unknown);
        }

        // Proposals are cheap, and must not take the time of the search for facts.
        bool IsWithin(TimeSpan time) => clock.GetElapsedTime(began) < time;
        var proposals = Alternatives.Propose(question.Suspect, await UsesAsync(source, outcome.Found, cancellation));
        var (proposed, _) = await AskAsync(snapshot, source, outcome, proposals, () => IsWithin(TimeMax / 2), cancellation);
        var facts = await MissingFactSearch.RunAsync(
            outcome.Found, source, outcome.Knowledge, MissingFactLimits.Default, () => IsWithin(TimeMax), cancellation);
        return (
            new(
                SuspectJson.View(question.Suspect),
                question.Suspect.ToString()!,
                outcome.AsOf,
                ScopeViews.Totals(outcome, null),
                [.. asked, .. proposed],
                [.. facts.Facts.Select(NarrowingViews.Fact)],
                facts.IsRanked,
                [.. facts.Groups.Select(NarrowingViews.Group)],
                [.. facts.Order.Select(s => new NarrowingStep(NarrowingViews.Fact(s.Fact), s.ClearedSoFar))],
                outcome.Completeness,
                [.. NarrowingViews.Remarks(facts, proposals.Length - proposed.Count), .. outcome.Remarks]),
            null);
    }

    private static async Task<(IReadOnlyList<NarrowingAlternative> Answers, Refusal? Refusal)> AskAsync(
        NpgsqlConnection snapshot, WhatIfSource source, ScopeOutcome whole, ImmutableArray<Alternative> alternatives, Func<bool> mayGoOn, CancellationToken cancellation)
    {
        var answers = new List<NarrowingAlternative>();
        var members = whole.Members.Select(m => m.Unit).ToHashSet(StringComparer.Ordinal);
        for (var i = 0; i < alternatives.Length && mayGoOn(); i++)
        {
            var (found, refusal) = await ScopeRunner.FindAsync(
                snapshot, source, alternatives[i].Suspect, string.Create(CultureInfo.InvariantCulture, $"/alternatives/{i}/suspect"), cancellation);
            if (found is not null)
            {
                answers.Add(NarrowingViews.Alternative(alternatives[i], found, members));
            }
            else if (alternatives[i].By == NarrowedBy.Asker)
            {
                return ([], refusal);
            }
        }

        return (answers, null);
    }

    // What the ways' last hops say: where, when and from which container the suspect was used.
    private static async Task<IReadOnlyCollection<UseSeen>> UsesAsync(WhatIfSource source, ScopeFound found, CancellationToken cancellation)
    {
        var keys = found.Members.SelectMany(m => m.Ways).Select(w => Last(w.Member.Best).Evidence)
            .Where(k => k.Kind is not (EvidenceKind.Unit or EvidenceKind.Installation)).Distinct().Take(UsesMax).ToList();
        var evidence = await source.EvidenceAsync(keys, cancellation);
        return [.. keys.Select(k => evidence[k]).Select(e => new UseSeen(e.From, e.Step, e.Station, e.Container))];
    }

    private static Reach Last(Reach reach)
    {
        while (reach.Via is { } via)
        {
            reach = via;
        }

        return reach;
    }
}
