using System.Text.Json;
using Npgsql;
using NpgsqlTypes;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Service.Storage;

namespace Traceability.Service.Ingest;

/// <summary>A plan that is made while another group is stored; further facts may join it until that is done.</summary>
/// <param name="Plan">The plan.</param>
/// <param name="Decider">What has decided its facts.</param>
/// <param name="IsVoid">A fact was refused, or a repeat: that is only sure when it is looked up, so the whole group waits for its turn.</param>
internal sealed record PlanAhead(GroupPlan Plan, GroupDecider Decider, bool IsVoid = false);

/// <summary>Decides a group of facts, one after the other, against what the database holds: who is stored, with which rows and answers.</summary>
/// <remarks>For one thread: the committer's.</remarks>
internal sealed class GroupPlanner(UnitCache units, ReferenceCache references, TimeProvider clock)
{
    private readonly KeptCases _cases = new();

    private sealed record Receipt(byte[] ContentHash, string Stream, int Version, DateTimeOffset RecordedAt, string? Answer);

    /// <summary>Plans a group. Facts that were stored before are answered from their receipts.</summary>
    /// <param name="connection">Where to read what isn't held in memory.</param>
    /// <param name="facts">The facts.</param>
    /// <param name="rejudges">The units to judge again.</param>
    /// <param name="isTrusting">
    /// Takes it that no fact was stored before and that no definition has changed since the last look, which saves a round trip. If it
    /// isn't so, the plan can't be stored, and the next one must not trust.
    /// </param>
    /// <param name="cancellation">Gives up.</param>
    public async Task<GroupPlan> PlanAsync(
        NpgsqlConnection connection,
        IReadOnlyList<PendingFact> facts,
        IReadOnlyList<PendingRejudge> rejudges,
        bool isTrusting,
        CancellationToken cancellation)
    {
        isTrusting &= rejudges.Count == 0 && references.LastSeq > 0 && !facts.Any(f => FactStreams.RecordNamedBy(f.Posted.Fact) is not null);
        var (receipts, seq) = isTrusting
            ? ([], references.LastSeq)
            : await ReceiptsAsync(connection, facts, cancellation);
        var plan = new GroupPlan { RecordedAt = GroupPlan.Moment(clock), ReferenceSeq = seq };
        var streams = FactStreams.Of(facts, id => receipts.GetValueOrDefault(id)?.Stream);
        foreach (var rejudge in rejudges)
        {
            units.Remove(StreamNames.UnitPrefix + rejudge.Unit);
        }

        await LoadAsync(connection, plan, [.. streams.Values.OfType<string>().Concat(rejudges.Select(r => StreamNames.UnitPrefix + r.Unit)).Distinct(StringComparer.Ordinal)], cancellation);
        var known = await ReferencesAsync(connection, plan, facts, rejudges, seq, cancellation);
        plan.ReferenceSeq = known.Seq;
        plan.ReferenceGeneration = known.Generation;
        var files = await NamedAttachments.AddKnownAsync(connection, known.References, facts, cancellation);
        new GroupDecider(plan, files).Decide(facts, streams, p => receipts.TryGetValue(p.Id, out var r) ? Answer(p, r) : null, rejudges);

        // A refusal isn't tried against the database, and it may be of a fact that is stored already, such as a unit's opening.
        var holds = isTrusting
            ? plan.Answers.TrueForAll(a => a.Answer is IngestAnswer.Recorded)
            : await RefusalsHoldAsync(connection, plan, streams, cancellation);
        return holds ? plan : await PlanAsync(connection, facts, rejudges, isTrusting: false, cancellation);
    }

    /// <summary>Plans facts, trusting, while another group is still being stored: on what that one will leave behind.</summary>
    /// <param name="connection">Where to read what isn't held in memory.</param>
    /// <param name="ahead">The plan that the facts join; null to begin one.</param>
    /// <param name="facts">The facts.</param>
    /// <param name="cancellation">Gives up.</param>
    /// <returns>Null where more must be read than the facts of units that the other group doesn't touch; the plan then holds as it was.</returns>
    public async Task<PlanAhead?> PlanAheadAsync(NpgsqlConnection connection, PlanAhead? ahead, IReadOnlyList<PendingFact> facts, CancellationToken cancellation)
    {
        var seq = references.LastSeq;
        var generation = references.Generation;
        if (seq == 0
            || (ahead is not null && (ahead.Plan.ReferenceSeq != seq || ahead.Plan.ReferenceGeneration != generation))
            || facts.Any(f => FactStreams.RecordNamedBy(f.Posted.Fact) is not null)
            || NamedAttachments.AreIn(facts))
        {
            return null;
        }

        var streams = FactStreams.Of(facts, _ => null);
        if (!streams.Values.All(s => s is not null && FactStreams.IsUnit(s)))
        {
            return null;
        }

        var plan = ahead?.Plan ?? new GroupPlan { RecordedAt = GroupPlan.Moment(clock), ReferenceSeq = seq, ReferenceGeneration = generation };
        string[] named = [.. streams.Values.OfType<string>().Distinct(StringComparer.Ordinal)];
        await LoadAsync(connection, plan, [.. named.Where(s => !plan.Units.ContainsKey(s))], cancellation);
        UnitDraft[] drafts = [.. named.Select(s => plan.Units[s])];
        var names = NamesOf(drafts, facts, generation);
        if (names.Any(n => FactStreams.IsUnit(n) || n.StartsWith(StreamNames.BatchPrefix, StringComparison.Ordinal)) || drafts.Any(u => u.Stored.HasComponents || u.Stored.NamesBatch))
        {
            return null;
        }

        var known = await references.GetAsync(connection, seq, names, r => GroupPlan.TemperaturesOf(drafts, r, facts), cancellation);
        if (known.Seq != seq || known.Generation != generation)
        {
            return null;
        }

        if (ahead is null)
        {
            ahead = new(plan, new GroupDecider(plan, known.References));
        }
        else
        {
            plan.RecordedAt = GroupPlan.Moment(clock);
            ahead.Decider.Know(known.References);
        }

        ahead.Decider.Decide(facts, streams, _ => null, []);
        return ahead with { IsVoid = plan.Answers[^facts.Count..].Exists(a => a.Answer is not IngestAnswer.Recorded) };
    }

    // Nothing that is refused is tried against the database when the group is stored. So it is looked up whether another instance
    // has stored the fact itself or something else about the unit since the units and the receipts were read.
    private async Task<bool> RefusalsHoldAsync(
        NpgsqlConnection connection, GroupPlan plan, Dictionary<PendingFact, string?> streams, CancellationToken cancellation)
    {
        var refused = plan.Answers.Where(a => a.Answer is IngestAnswer.Refused { Reason.Code: not "fact-id-reused" }).Select(a => a.Pending).ToArray();
        if (refused.Length == 0)
        {
            return true;
        }

        var named = refused.Select(p => streams[p]).OfType<string>().Where(FactStreams.IsUnit).Distinct(StringComparer.Ordinal).ToArray();
        var versions = await UnitLoader.VersionsAsync(connection, named, cancellation);
        var behind = named.Where(s => versions.GetValueOrDefault(s) != plan.Units[s].Stored.Unit.Version).ToArray();
        foreach (var stream in behind)
        {
            units.Remove(stream);
        }

        var (stored, _) = await ReceiptsAsync(connection, refused, cancellation);
        return behind.Length == 0 && !refused.Any(p => stored.ContainsKey(p.Posted.Id));
    }

    private static (byte[] Hash, IngestAnswer.Recorded Answer) Answer(PostedFact posted, Receipt receipt) => (
        receipt.ContentHash,
        new(posted, receipt.Stream, receipt.Version, receipt.RecordedAt, IsRepeat: true, receipt.Answer is null ? [] : JsonSerializer.Deserialize<ImmutableArray<Finding>>(receipt.Answer, EventJson.Options)));

    private static async Task<(Dictionary<Guid, Receipt> Receipts, long Seq)> ReceiptsAsync(
        NpgsqlConnection connection, IReadOnlyList<PendingFact> facts, CancellationToken cancellation)
    {
        var ids = facts.Select(f => f.Posted.Id).Concat(facts.Select(f => FactStreams.RecordNamedBy(f.Posted.Fact)).OfType<Guid>()).Distinct().ToArray();
        var receipts = new Dictionary<Guid, Receipt>();
        await using var batch = new NpgsqlBatch(connection);
        batch.BatchCommands.Add(new("select seq from traceability.reference_clock"));
        batch.BatchCommands.Add(new("select fact_id, content_hash, stream, version, recorded_at, answer::text from traceability.receipt where fact_id = any($1)")
        {
            Parameters = { new() { Value = ids, NpgsqlDbType = NpgsqlDbType.Array | NpgsqlDbType.Uuid } },
        });
        await using var reader = await batch.ExecuteReaderAsync(cancellation);
        await reader.ReadAsync(cancellation);
        var seq = reader.GetInt64(0);
        await reader.NextResultAsync(cancellation);
        while (await reader.ReadAsync(cancellation))
        {
            receipts[reader.GetGuid(0)] = new(
                reader.GetFieldValue<byte[]>(1), reader.GetString(2), reader.GetInt32(3), reader.GetFieldValue<DateTimeOffset>(4), reader.IsDBNull(5) ? null : reader.GetString(5));
        }

        return (receipts, seq);
    }

    private async Task LoadAsync(NpgsqlConnection connection, GroupPlan plan, string[] streams, CancellationToken cancellation)
    {
        var cold = new List<string>();
        foreach (var stream in streams.Where(FactStreams.IsUnit))
        {
            if (units.Find(stream) is { } cached)
            {
                plan.Units[stream] = new(cached);
            }
            else
            {
                cold.Add(stream);
            }
        }

        foreach (var state in await UnitLoader.LoadAsync(connection, cold, cancellation))
        {
            plan.Units[state.Stream] = new(state);
        }

        foreach (var draft in await _cases.LoadAsync(connection, [.. streams.Where(s => !FactStreams.IsUnit(s))], cancellation))
        {
            plan.References[draft.Stream] = draft;
        }
    }

    // What must be known of other streams; of a unit that was judged with these references before, only what the facts bring in.
    private static HashSet<string> NamesOf(IEnumerable<UnitDraft> units, IReadOnlyList<PendingFact> facts, int generation)
    {
        var names = new HashSet<string>(StringComparer.Ordinal);
        foreach (var draft in units)
        {
            if (draft.Stored.KnownIn != generation)
            {
                names.UnionWith(Dependencies.Of(draft.Unit));
            }
        }

        foreach (var pending in facts)
        {
            NeededBy.Add(names, pending.Posted.Fact);
        }

        return names;
    }

    private async Task<ReferenceCache.Snapshot> ReferencesAsync(
        NpgsqlConnection connection,
        GroupPlan plan,
        IReadOnlyList<PendingFact> facts,
        IReadOnlyList<PendingRejudge> rejudges,
        long seq,
        CancellationToken cancellation)
    {
        var names = NamesOf(plan.Units.Values, facts, generation: -1);
        var components = names.Where(FactStreams.IsUnit).Select(n => UnitKey.Parse(n[StreamNames.UnitPrefix.Length..])).ToArray();
        names.RemoveWhere(FactStreams.IsUnit);
        var snapshot = await references.GetAsync(connection, seq, names, r => plan.TemperaturesOf(r, facts), cancellation);
        snapshot = snapshot with { References = await BatchTaking.WithTakenAsync(connection, snapshot.References, names, FactStreams.OpeningsIn(facts), "traceability", cancellation) };
        if (components.Length == 0)
        {
            return snapshot;
        }

        // A unit that is judged again because a component changed must see that component as the database holds it now.
        if (rejudges.Count > 0)
        {
            foreach (var component in components)
            {
                units.Remove(StreamNames.Of(component));
            }
        }

        return snapshot with { References = await WithComponentsAsync(connection, plan, snapshot.References, components, cancellation) };
    }

    private async Task<References> WithComponentsAsync(
        NpgsqlConnection connection, GroupPlan plan, References known, UnitKey[] components, CancellationToken cancellation)
    {
        var cold = new List<string>();
        var (installations, versions) = await UnitLoader.ComponentsAsync(connection, components, cancellation);
        foreach (var component in components)
        {
            var stream = StreamNames.Of(component);
            plan.ComponentVersions[stream] = versions.GetValueOrDefault(stream);

            // What is held in memory may be behind what another instance has stored; a unit that the group writes to is checked when it is stored.
            var cached = plan.Units.GetValueOrDefault(stream)?.Unit ?? units.Find(stream)?.Unit;
            if (cached is { } unit && (unit.Version == versions.GetValueOrDefault(stream) || plan.Units.ContainsKey(stream)))
            {
                known = known.With(stream, unit);
            }
            else
            {
                cold.Add(stream);
            }
        }

        foreach (var (stream, facts) in await EventReader.LoadAsync(connection, cold, cancellation))
        {
            known = known.With(stream, References.Fold(stream, facts));
        }

        foreach (var component in components)
        {
            known = known.WithInstallations(component, [.. installations[component]]);
        }

        return known;
    }
}
