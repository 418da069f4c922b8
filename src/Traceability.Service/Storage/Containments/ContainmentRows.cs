using Npgsql;
using Traceability.Domain.Containments;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;

namespace Traceability.Service.Storage.Containments;

/// <summary>Writes the rows of containments by the difference that new facts make. A member is never taken out.</summary>
internal static class ContainmentRows
{
    private static readonly Columns<Containment> Cases = new Columns<Containment>()
        .Text("id", c => c.Id.Value)
        .Text("title", c => c.Opened!.Title)
        .Text("state", c => EnumNames<ContainmentState>.Of(c.State))
        .Text("question", c => c.Opened!.Question)
        .Text("question_words", c => c.Opened!.QuestionInWords)
        .Boolean("holds_late", c => c.Opened!.HoldsLate)
        .Time("opened_at", c => c.Opened!.At)
        .Text("opened_by", c => c.Opened!.Person?.Value)
        .Time("closed_at", c => c.State == ContainmentState.Closed ? c.Words[^1].At : null)
        .Integer("runs", c => c.Runs.Count)
        .Time("scoped_at", c => c.Runs.Count == 0 ? null : c.Runs[^1].AsOf)
        .Integer("members", c => c.Members.Count)
        .Integer("members_open", c => c.OpenCount)
        .Integer("late_open", c => c.LateCount)
        .Time("late_since", LateSince)
        .Boolean("has_unreadable", c => c.HasUnreadable)
        .Integer("version", c => c.Version);

    private static readonly Statement<Containment> WriteCase = Cases.InsertInto(
        "traceability.containment",
        """
        on conflict (id) do update set
          title = excluded.title, state = excluded.state, question = excluded.question, question_words = excluded.question_words,
          holds_late = excluded.holds_late, opened_at = excluded.opened_at, opened_by = excluded.opened_by, closed_at = excluded.closed_at,
          runs = excluded.runs, scoped_at = excluded.scoped_at, members = excluded.members, members_open = excluded.members_open,
          late_open = excluded.late_open, late_since = excluded.late_since, has_unreadable = excluded.has_unreadable, version = excluded.version
        """);

    private static readonly Columns<Row> Members = new Columns<Row>()
        .Text("containment", r => r.Case)
        .Text("unit", r => r.Member.Unit.ToString())
        .Text("verdict", r => r.Member.Verdict is { } v ? EnumNames<ScopeVerdict>.Of(v) : null)
        .Text("place_found", r => EnumNames<Place>.Of(r.Member.PlaceFound))
        .Time("found_at", r => r.Member.FoundAt)
        .Uuid("found_by", r => r.Member.FoundBy)
        .Integer("run", r => r.Member.Run)
        .Boolean("is_acknowledged", r => r.Member.IsAcknowledged)
        .Text("why", r => r.Member.Why)
        .Text("evidence", r => r.Member.Evidence?.ToString())
        .Time("held_at", r => r.Member.HeldAt)
        .Time("lifted_at", r => r.Member.LiftedAt)
        .Time("followed_up_at", r => r.Member.FirstFollowedUpAt)
        .Text("outcome", r => r.Member.Outcome is { } o ? EnumNames<FollowUpOutcome>.Of(o.Outcome) : null)
        .Boolean("is_final", r => r.Member.HasFinalOutcome)
        .Time("outcome_at", r => r.Member.Outcome?.At)
        .Text("outcome_by", r => r.Member.Outcome?.Person?.Value)
        .Text("outcome_record", r => r.Member.Outcome?.Record.ToString())
        .Text("outcome_note", r => r.Member.Outcome?.Note)
        .Text("outcome_evidence", r => $"{{{string.Join(',', r.Member.Outcome?.Evidence ?? [])}}}");

    private static readonly Statement<Row> WriteMembers = Members.Statement(
        """
        insert into traceability.containment_member (
          containment, unit, verdict, place_found, found_at, found_by, run, is_acknowledged, why, evidence, held_at, lifted_at, followed_up_at,
          outcome, is_final, outcome_at, outcome_by, outcome_record, outcome_note, outcome_evidence)
        select containment, unit, verdict, place_found, found_at, found_by, run, is_acknowledged, why, evidence::uuid, held_at, lifted_at, followed_up_at,
          outcome, is_final, outcome_at, outcome_by, outcome_record::uuid, outcome_note, outcome_evidence::uuid[] from {rows}
        on conflict (containment, unit) do update set
          verdict = excluded.verdict, place_found = excluded.place_found, found_at = excluded.found_at, found_by = excluded.found_by,
          run = excluded.run, is_acknowledged = excluded.is_acknowledged, why = excluded.why, evidence = excluded.evidence,
          held_at = excluded.held_at, lifted_at = excluded.lifted_at, followed_up_at = excluded.followed_up_at, outcome = excluded.outcome,
          is_final = excluded.is_final, outcome_at = excluded.outcome_at, outcome_by = excluded.outcome_by, outcome_record = excluded.outcome_record,
          outcome_note = excluded.outcome_note, outcome_evidence = excluded.outcome_evidence
        """);

    private sealed record Row(string Case, ContainmentMember Member);

    /// <summary>Whether a stream is a containment's.</summary>
    public static bool IsContainment(string stream) => stream.StartsWith(StreamNames.ContainmentPrefix, StringComparison.Ordinal);

    /// <summary>The case of a stream, folded from its facts.</summary>
    public static Containment Fold(string stream, ImmutableArray<RecordedFact> facts) =>
        Containment.Of(ContainmentId.Parse(stream[StreamNames.ContainmentPrefix.Length..]), facts);

    /// <summary>Adds the statements for cases that grew; none where none did.</summary>
    public static void Add(NpgsqlBatch batch, IReadOnlyCollection<(Containment Before, Containment After)> changed)
    {
        var opened = changed.Where(c => c.After.Opened is not null).ToArray();
        WriteCase.AddTo(batch, [.. opened.Select(c => c.After)]);
        WriteMembers.AddTo(batch, [.. opened.SelectMany(c => Changed(c.Before, c.After))]);
    }

    /// <summary>The case as its stream tells it; null where nobody opened it.</summary>
    public static async Task<Containment?> FindAsync(NpgsqlConnection connection, ContainmentId id, CancellationToken cancellation)
    {
        var stream = StreamNames.Of(id);
        return (await EventReader.LoadAsync(connection, [stream], cancellation)).TryGetValue(stream, out var facts) && Containment.Of(id, facts) is { Opened: not null } found
            ? found
            : null;
    }

    private static IEnumerable<Row> Changed(Containment before, Containment after) => after.Members.Values
        .Where(m => !before.Members.TryGetValue(m.Unit, out var known) || known != m)
        .Select(m => new Row(after.Id.Value, m));

    private static DateTimeOffset? LateSince(Containment containment)
    {
        var late = containment.Members.Values.Where(m => m is { IsLate: true, IsAcknowledged: false }).Select(m => m.FoundAt).ToArray();
        return late.Length == 0 ? null : late.Min();
    }
}
