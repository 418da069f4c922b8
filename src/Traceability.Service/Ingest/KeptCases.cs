using Npgsql;
using Traceability.Domain.Containments;
using Traceability.Domain.Facts;
using Traceability.Service.Storage;

namespace Traceability.Service.Ingest;

/// <summary>Loads streams that aren't units'. Cases of containments are kept as they were read, so that of each only what came since is read.</summary>
/// <remarks>
/// A case of tens of thousands of members takes a second to read and to fold, and each of its follow-ups asks for it. Facts are only ever
/// added to a stream, so what was read of it stays right. For one thread: the committer's.
/// </remarks>
internal sealed class KeptCases
{
    // The members of all cases that are kept; a member and its words take about half a kilobyte.
    private const int MembersMax = 100_000;
    private const int CasesMax = 50;

    private readonly List<(string Stream, ImmutableArray<RecordedFact> Facts, Containment Case)> _kept = [];

    /// <summary>Loads the streams; one that isn't there has no facts.</summary>
    public async Task<List<ReferenceDraft>> LoadAsync(NpgsqlConnection connection, string[] streams, CancellationToken cancellation)
    {
        var drafts = new List<ReferenceDraft>(streams.Length);
        var unknown = new List<string>();
        foreach (var stream in streams)
        {
            if (_kept.FindIndex(k => string.Equals(k.Stream, stream, StringComparison.Ordinal)) is var at && at >= 0)
            {
                var (_, facts, known) = _kept[at];
                ImmutableArray<RecordedFact> grown = [.. facts, .. await EventReader.LoadAfterAsync(connection, stream, facts.Length, cancellation)];
                drafts.Add(new(stream, grown, known.With(grown)));
            }
            else
            {
                unknown.Add(stream);
            }
        }

        var loaded = await EventReader.LoadAsync(connection, unknown, cancellation);
        drafts.AddRange(unknown.Select(s => new ReferenceDraft(s, loaded.GetValueOrDefault(s, []))));
        foreach (var draft in drafts)
        {
            Keep(draft);
        }

        return drafts;
    }

    // The one that was asked for last stands last.
    private void Keep(ReferenceDraft draft)
    {
        if (draft.Before is not { Opened: not null } found)
        {
            return;
        }

        _kept.RemoveAll(k => string.Equals(k.Stream, draft.Stream, StringComparison.Ordinal));
        _kept.Add((draft.Stream, draft.Facts, found));
        while (_kept.Count > CasesMax || _kept.Sum(k => k.Case.Members.Count) > MembersMax)
        {
            _kept.RemoveAt(0);
        }
    }
}
