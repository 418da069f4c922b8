using System.Text.Json;
using Npgsql;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;
using Traceability.Service.Http.Reading;
using Traceability.Service.Storage.Scopes;

namespace Traceability.Service.Features.Scope;

/// <summary>Answers other features' questions for a scope.</summary>
internal sealed class ScopeQuestions(ScopeRunner runner) : IScopeQuestions
{
    /// <inheritdoc />
    public Suspect Read(JsonReading reading, JsonElement element) => SuspectJson.Read(reading, element);

    /// <inheritdoc />
    public Suspect Parse(string json) => SuspectJson.Parse(json);

    /// <inheritdoc />
    public string Write(Suspect suspect) => SuspectJson.Write(suspect);

    /// <inheritdoc />
    public async Task<(FoundScope? Found, Refusal? Refusal)> AskAsync(
        NpgsqlConnection snapshot, Suspect suspect, string pointer, CancellationToken cancellation)
    {
        var (outcome, refusal) = await runner.AskAsync(snapshot, suspect, pointer, cancellation);
        return outcome is null ? (null, refusal) : (Of(outcome), null);
    }

    private static FoundScope Of(ScopeOutcome outcome)
    {
        var places = new Dictionary<UnitKey, int>(outcome.Members.Length);
        var units = ImmutableArray.CreateBuilder<ReachedUnit>(outcome.Members.Length);
        for (var i = 0; i < outcome.Members.Length; i++)
        {
            var unit = UnitKey.Parse(outcome.Members[i].Unit);
            places[unit] = i;
            units.Add(new(unit, outcome.Members[i].Verdict, outcome.Whereabouts[i].Stands?.Place ?? Place.InProcess));
        }

        return new(outcome.AsOf, units.MoveToImmutable(), outcome.Completeness, outcome.Remarks, async (asked, cancellation) =>
        {
            FoundMember[] members = [.. asked.Select(u => outcome.Members[places[u]])];
            var evidence = await outcome.EvidenceAsync(members, cancellation);
            return members.ToDictionary(m => UnitKey.Parse(m.Unit), m => new ReachedBy(ScopeOutcome.Reason(m, evidence), RecordOf(m, evidence)));
        });
    }

    // The hop next to the suspect: the record that names it.
    private static Guid? RecordOf(FoundMember member, IReadOnlyDictionary<EvidenceKey, EvidenceRow> evidence) =>
        evidence.TryGetValue(ScopeWords.Keys(member.Best.Member.Best).Last(), out var row) && row.Record != Guid.Empty ? row.Record : null;
}
