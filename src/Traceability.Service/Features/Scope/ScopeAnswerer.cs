using Traceability.Contracts.Scope;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;
using Traceability.Service.Http.Querying;
using Traceability.Service.Storage.Answers;

namespace Traceability.Service.Features.Scope;

/// <summary>Which page of an answer is asked for.</summary>
/// <param name="Limit">At most so many members, and so many cleared units.</param>
/// <param name="After">Only members after this one, as item/serial.</param>
/// <param name="WithCleared">Whether cleared units are listed.</param>
/// <param name="ClearedAfter">Only cleared units after this one, as item/serial.</param>
internal sealed record ScopePageRequest(int Limit, string? After, bool WithCleared, string? ClearedAfter)
{
    private const string UnitForm = "A unit as item/serial is expected: what the page before said.";

    /// <summary>Reads it from a query; faults are the reader's.</summary>
    public static ScopePageRequest Read(QueryReader reader) => new(
        reader.Integer("limit", 1, ScopeRequest.LimitMax, ScopeRequest.LimitDefault),
        reader.Text("after", Unit, UnitForm),
        reader.Names("include", ["cleared"]) is { IsEmpty: false },
        reader.Text("clearedAfter", Unit, UnitForm));

    private static string? Unit(string text) =>
        text.Split('/') is [var item, var serial] && Codes.TryParse<ItemNumber>(item, out _) && Codes.TryParse<SerialNumber>(serial, out _) ? text : null;
}

/// <summary>Answers questions for a scope, each from one snapshot of the database: every fact acknowledged before is in it.</summary>
internal sealed class ScopeAnswerer(AnswerDatabase database, ScopeRunner runner)
{
    /// <summary>The answer, or the refusal that names every suspect of which nothing is known.</summary>
    /// <param name="suspect">What is suspected.</param>
    /// <param name="pointer">Where it stands in what was sent.</param>
    /// <param name="page">Which page.</param>
    /// <param name="cancellation">Stops it.</param>
    public async Task<(ScopeQuestionAnswer? Answer, Refusal? Refusal)> AnswerAsync(
        Suspect suspect, string pointer, ScopePageRequest page, CancellationToken cancellation)
    {
        await using var session = await database.OpenAsync(cancellation);
        var (outcome, refusal) = await runner.AskAsync(session.Connection, suspect, pointer, cancellation);
        return outcome is null ? (null, refusal) : (await AnswerAsync(outcome, page, cancellation), null);
    }

    private static async Task<ScopeQuestionAnswer> AnswerAsync(
        ScopeOutcome outcome, ScopePageRequest request, CancellationToken cancellation)
    {
        var cleared = await ScopeCleared.FindAsync(outcome, request.WithCleared ? request.Limit : null, request.ClearedAfter, cancellation);
        var page = ScopePage.Of(outcome, request.Limit, request.After);
        var evidence = await outcome.EvidenceAsync(page.Members, cancellation);
        return new(
            SuspectJson.View(outcome.Found.Suspect),
            outcome.Found.Suspect.ToString()!,
            outcome.AsOf,
            ScopeViews.Totals(outcome, cleared.Count),
            [.. page.Members.Select((m, i) => ScopeViews.Member(m, outcome.Whereabouts[page.First + i], evidence))],
            page.After,
            cleared.Units is null ? null : [.. cleared.Units.Value.Select(ScopeViews.Cleared)],
            cleared.After,
            outcome.Completeness,
            [.. outcome.Remarks, .. cleared.Count is null ? [NotCounted] : Array.Empty<string>()]);
    }

    private const string NotCounted = "Units that records clear are counted for whole lots and containers only.";
}
