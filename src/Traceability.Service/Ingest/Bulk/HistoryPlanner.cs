using Npgsql;
using NpgsqlTypes;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Service.Storage;

namespace Traceability.Service.Ingest.Bulk;

/// <summary>Decides many facts in order, as a group of single posts is decided, and judges each unit once when all are taken.</summary>
/// <remarks>Nothing is remembered between two plans: all is read in one snapshot, which the connection's transaction must hold.</remarks>
internal sealed class HistoryPlanner(ReferenceCache references, TimeProvider clock)
{
    private sealed record Receipt(byte[] ContentHash, string Stream, int Version, DateTimeOffset RecordedAt);

    /// <summary>Plans the facts; the answers are in their order.</summary>
    /// <param name="connection">Its transaction holds the snapshot.</param>
    /// <param name="facts">The facts.</param>
    /// <param name="before">A plan that is being stored meanwhile, and whose outcome the snapshot may lack; null for none.</param>
    /// <param name="cancellation">Gives up.</param>
    /// <returns>Null where the facts rest on more of that plan than what it leaves of their own units: they can be planned when it is stored.</returns>
    public async Task<GroupPlan?> PlanAsync(NpgsqlConnection connection, IReadOnlyList<PendingFact> facts, GroupPlan? before, CancellationToken cancellation)
    {
        if (before is not null && !IsApart(facts, before))
        {
            return null;
        }

        var seq = await ReferenceCache.SeqAsync(connection, cancellation);
        var plan = new GroupPlan { RecordedAt = GroupPlan.Moment(clock), ReferenceSeq = seq };
        var receipts = await ReceiptsAsync(connection, facts, cancellation);
        PendingFact[] news = [.. facts.Where(f => !receipts.ContainsKey(f.Posted.Id))];
        var streams = FactStreams.Of(facts, id => receipts.GetValueOrDefault(id)?.Stream);
        await LoadAsync(connection, plan, before, [.. news.Select(f => streams[f]).OfType<string>().Distinct(StringComparer.Ordinal)], cancellation);
        var (known, components) = await ReferencesAsync(connection, plan, news, seq, cancellation);
        if (before is not null && AreTouched(components, before))
        {
            return null;
        }

        known = await NamedAttachments.AddKnownAsync(connection, known, news, cancellation);
        var places = await UnitLoader.InstallationsAsync(connection, components, cancellation);
        await OwnThread.RunAsync(
            () =>
            {
                var decided = Decide(plan, facts, streams, receipts, known);
                plan.NoteTaken(decided);
                Judge(plan, decided, components, places);
            },
            cancellation);
        return plan;
    }

    // Facts about units only, none of which names a fact of the other plan or is one, where that plan changes nothing but units.
    private static bool IsApart(IReadOnlyList<PendingFact> facts, GroupPlan before)
    {
        if (before.References.Values.Any(r => r.Facts.Length > r.StoredVersion))
        {
            return false;
        }

        var ids = before.Appends.Select(a => a.Posted.Id).ToHashSet();
        return facts.All(f => f.Posted.Fact is Domain.ProductUnits.IUnitFact && !ids.Contains(f.Posted.Id));
    }

    // Whether the other plan writes one of these components, or puts it somewhere, perhaps.
    private static bool AreTouched(UnitKey[] components, GroupPlan before) =>
        components.Length > 0
        && (components.Any(c => before.Units.ContainsKey(StreamNames.Of(c))) || before.Units.Values.SelectMany(u => u.Components).Any(components.ToHashSet().Contains));

    private static async Task<Dictionary<Guid, Receipt>> ReceiptsAsync(NpgsqlConnection connection, IReadOnlyList<PendingFact> facts, CancellationToken cancellation)
    {
        var ids = facts.Select(f => f.Posted.Id).Concat(facts.Select(f => FactStreams.RecordNamedBy(f.Posted.Fact)).OfType<Guid>()).Distinct().ToArray();
        var receipts = new Dictionary<Guid, Receipt>();
        await using var command = new NpgsqlCommand("select fact_id, content_hash, stream, version, recorded_at from traceability.receipt where fact_id = any($1)", connection)
        {
            Parameters = { new() { Value = ids, NpgsqlDbType = NpgsqlDbType.Array | NpgsqlDbType.Uuid } },
        };
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        while (await reader.ReadAsync(cancellation))
        {
            receipts[reader.GetGuid(0)] = new(reader.GetFieldValue<byte[]>(1), reader.GetString(2), reader.GetInt32(3), reader.GetFieldValue<DateTimeOffset>(4));
        }

        return receipts;
    }

    private static async Task LoadAsync(NpgsqlConnection connection, GroupPlan plan, GroupPlan? before, string[] streams, CancellationToken cancellation)
    {
        List<string> units = [];
        foreach (var stream in streams.Where(FactStreams.IsUnit))
        {
            if (before?.Units.GetValueOrDefault(stream) is { Rows: not null } written)
            {
                plan.Units[stream] = new(written.Next());
            }
            else
            {
                units.Add(stream);
            }
        }

        foreach (var state in await UnitLoader.LoadAsync(connection, units, cancellation))
        {
            plan.Units[state.Stream] = new(state);
        }

        string[] others = [.. streams.Where(s => !FactStreams.IsUnit(s))];
        var facts = await EventReader.LoadAsync(connection, others, cancellation);
        foreach (var stream in others)
        {
            plan.References[stream] = new(stream, facts.GetValueOrDefault(stream, []));
        }
    }

    private async Task<(References Known, UnitKey[] Components)> ReferencesAsync(
        NpgsqlConnection connection, GroupPlan plan, IReadOnlyList<PendingFact> facts, long seq, CancellationToken cancellation)
    {
        var names = new HashSet<string>(StringComparer.Ordinal);
        foreach (var draft in plan.Units.Values)
        {
            names.UnionWith(Dependencies.Of(draft.Unit));
        }

        foreach (var pending in facts)
        {
            NeededBy.Add(names, pending.Posted.Fact);
        }

        UnitKey[] components = [.. names.Where(FactStreams.IsUnit).Select(n => UnitKey.Parse(n[StreamNames.UnitPrefix.Length..]))];
        names.RemoveWhere(FactStreams.IsUnit);
        var known = (await references.GetAsync(connection, seq, names, r => plan.TemperaturesOf(r, facts), cancellation)).References;
        known = await BatchTaking.WithTakenAsync(connection, known, names, FactStreams.OpeningsIn(facts), "traceability", cancellation);
        string[] elsewhere = [.. components.Select(StreamNames.Of).Where(s => !plan.Units.ContainsKey(s))];
        var found = await EventReader.LoadAsync(connection, elsewhere, cancellation);
        foreach (var stream in elsewhere)
        {
            plan.ComponentVersions[stream] = found.TryGetValue(stream, out var stored) ? stored.Length : 0;
            known = stored.IsDefault ? known : known.With(stream, References.Fold(stream, stored));
        }

        return (known, components);
    }

    // The references with what the facts themselves define.
    private static References Decide(
        GroupPlan plan, IReadOnlyList<PendingFact> facts, Dictionary<PendingFact, string?> streams, Dictionary<Guid, Receipt> receipts, References known)
    {
        var accepted = new Dictionary<Guid, (byte[] Hash, IngestAnswer.Recorded Answer)>();
        foreach (var pending in facts)
        {
            var posted = pending.Posted;
            var answer = receipts.TryGetValue(posted.Id, out var receipt)
                ? Repeat(posted, receipt.ContentHash, new(posted, receipt.Stream, receipt.Version, receipt.RecordedAt, IsRepeat: true, []))
                : accepted.TryGetValue(posted.Id, out var same) ? Repeat(posted, same.Hash, same.Answer)
                : DecideOne(plan, posted, streams[pending], ref known);
            plan.Answers.Add((pending, answer));
            if (answer is IngestAnswer.Recorded { IsRepeat: false } recorded)
            {
                accepted[posted.Id] = (posted.ContentHash, recorded);
            }
        }

        return known;
    }

    private static IngestAnswer Repeat(PostedFact posted, byte[] hash, IngestAnswer.Recorded before) =>
        hash.AsSpan().SequenceEqual(posted.ContentHash) ? before with { Posted = posted, IsRepeat = true } : new IngestAnswer.Refused(GroupDecider.IdReused(posted));

    private static IngestAnswer DecideOne(GroupPlan plan, PostedFact posted, string? stream, ref References known)
    {
        if (stream is null)
        {
            return new IngestAnswer.Refused(CorrectionDecisions.Check([], posted.Fact)!);
        }

        if (plan.Units.TryGetValue(stream, out var unit))
        {
            var fact = CorrectionDecisions.WithClock(unit.Unit.Facts, posted.Fact);
            if ((CorrectionDecisions.Check(unit.Unit.Facts, fact) ?? Domain.ProductUnits.UnitDecisions.Check(unit.Unit, fact, known)) is { } refusal)
            {
                return new IngestAnswer.Refused(refusal);
            }

            unit.Add(new(posted.Id, fact, plan.RecordedAt));
            return Accept(plan, posted, stream, unit.Unit.Version, fact);
        }
        else
        {
            var draft = plan.References[stream];
            var fact = CorrectionDecisions.WithClock(draft.Facts, posted.Fact);
            if (ReferenceDecisions.Check(draft, fact, known) is { } refusal)
            {
                return new IngestAnswer.Refused(refusal);
            }

            draft.Add(new(posted.Id, fact, plan.RecordedAt));
            known = known.With(stream, References.Fold(stream, draft.Facts));
            return Accept(plan, posted, stream, draft.Facts.Length, fact);
        }
    }

    private static IngestAnswer.Recorded Accept(GroupPlan plan, PostedFact posted, string stream, int version, Fact fact)
    {
        plan.Appends.Add(new(stream, version, posted, fact, null, plan.RecordedAt));
        return new(posted, stream, version, plan.RecordedAt, IsRepeat: false, []);
    }

    // A judgement may look at where a component is installed in other units, which may be judged here too. Where a unit's own
    // components are follows from its facts alone, so a first judgement tells that and a second one looks at all of it.
    private static void Judge(GroupPlan plan, References known, UnitKey[] components, ILookup<UnitKey, Installation> places)
    {
        UnitDraft[] changed = [.. plan.Units.Values.Where(u => u.Unit.Version > u.Stored.Unit.Version)];
        foreach (var component in components)
        {
            var stream = StreamNames.Of(component);
            known = plan.Units.TryGetValue(stream, out var here) && here.Unit.Version > 0 ? known.With(stream, here.Unit) : known;
        }

        UnitDraft[] parents = components.Length == 0 ? [] : [.. changed.Where(u => u.Components.Any())];
        var first = known;
        Parallel.ForEach(parents, u => u.Take(Domain.Judging.Judge.Unit(u.Unit, first)));
        var keys = parents.Select(p => p.Unit.Key).ToHashSet();
        var now = parents.SelectMany(p => p.Rows!.Judgement.Installations).ToLookup(i => i.Component);
        foreach (var component in components)
        {
            ImmutableArray<Installation> after = [.. places[component].Where(i => !keys.Contains(i.Parent)).Concat(now[component]).OrderBy(i => i.From).ThenBy(i => i.Record)];
            known = known.WithInstallations(component, after);
            foreach (var parent in places[component].Concat(now[component]).Select(i => i.Parent).Where(keys.Contains).Distinct())
            {
                if (!now[component].Where(i => i.Parent == parent).ToHashSet().SetEquals(places[component].Where(i => i.Parent == parent)))
                {
                    plan.Moved.Add((component, parent));
                }
            }
        }

        Parallel.ForEach(changed, u => u.Take(Domain.Judging.Judge.Unit(u.Unit, known)));
    }
}
