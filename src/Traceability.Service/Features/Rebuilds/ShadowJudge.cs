using Npgsql;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Service.Ingest;
using Traceability.Service.Ingest.Bulk;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Rebuilds;

/// <summary>Units as their facts tell, and what judging them needs that isn't another unit.</summary>
internal sealed record LoadedUnits(ImmutableArray<ProductUnit> Units, Dictionary<string, long> Judgements, References Known)
{
    /// <summary>The number of facts.</summary>
    public int Facts => Units.Sum(u => u.Version);
}

/// <summary>Judges many units from nothing but their stored facts.</summary>
/// <remarks>
/// A judgement may look at where the unit's components are installed elsewhere, which their other parents' facts tell. Where
/// components are put in does not depend on that: so every unit is judged once for its installations, and those that name a
/// component once more when all installations are known. It is the same with a batch, and the other units that were taken out of it.
/// </remarks>
internal sealed class ShadowJudge(ReferenceCache references)
{
    // No running instance can hold a count like this of a unit that the live table lacks.
    private const long JudgementOfMissing = 1_000_000_000;

    /// <summary>Reads units in the connection's snapshot, which one transaction must hold.</summary>
    public async Task<LoadedUnits> LoadAsync(NpgsqlConnection connection, IReadOnlyCollection<string> streams, CancellationToken cancellation)
    {
        var seq = await ReferenceCache.SeqAsync(connection, cancellation);
        var facts = await EventReader.LoadAsync(connection, streams, cancellation);
        ImmutableArray<ProductUnit> units = [.. facts.Select(f => ProductUnit.Of(UnitKey.Parse(f.Key[StreamNames.UnitPrefix.Length..]), f.Value))];
        var judgements = (await Sql.ListAsync(
            connection,
            $"select unit, judgement from {ShadowTables.Live}.unit where unit = any($1)",
            r => (Unit: r.GetString(0), Judgement: r.GetInt64(1)),
            cancellation,
            [units.Select(u => u.Key.ToString()).ToArray()])).ToDictionary(j => j.Unit, j => j.Judgement, StringComparer.Ordinal);
        var names = new HashSet<string>(StringComparer.Ordinal);
        foreach (var unit in units)
        {
            names.UnionWith(Dependencies.Of(unit));
        }

        names.RemoveWhere(FactStreams.IsUnit);
        return new(units, judgements, (await references.GetAsync(connection, seq, names, r => UnitReader.Temperatures(r, units, []), cancellation)).References);
    }

    /// <summary>Judges the units as if no component were anywhere else: right for units that name none, and for installations.</summary>
    public static Task<List<BulkUnit>> JudgeAsync(LoadedUnits loaded, CancellationToken cancellation) =>
        OwnThread.RunAsync<List<BulkUnit>>(() => [.. loaded.Units.Select(u => Judge(loaded, u, loaded.Known))], cancellation);

    /// <summary>Judges units by their components too, whose installations the second tables hold.</summary>
    public static async Task<List<BulkUnit>> JudgeWithComponentsAsync(NpgsqlConnection connection, LoadedUnits loaded, CancellationToken cancellation)
    {
        var known = await BatchTaking.WithTakenAsync(connection, loaded.Known, loaded.Units.SelectMany(Dependencies.Of), 0, ShadowTables.Next, cancellation);
        UnitKey[] components = [.. loaded.Units.SelectMany(u => Dependencies.Of(u).Where(FactStreams.IsUnit)).Distinct(StringComparer.Ordinal).Select(c => UnitKey.Parse(c[StreamNames.UnitPrefix.Length..]))];
        foreach (var (stream, facts) in await EventReader.LoadAsync(connection, [.. components.Select(StreamNames.Of)], cancellation))
        {
            known = known.With(stream, References.Fold(stream, facts));
        }

        var installations = await UnitLoader.InstallationsAsync(connection, components, cancellation, ShadowTables.Next);
        foreach (var component in components)
        {
            known = known.WithInstallations(component, [.. installations[component]]);
        }

        var all = known;
        return await OwnThread.RunAsync<List<BulkUnit>>(() => [.. loaded.Units.Select(u => Judge(loaded, u, all))], cancellation);
    }

    /// <summary>Whether the unit's facts name another unit, or a batch, which other units may have been taken out of.</summary>
    public static bool NamesComponents(BulkUnit unit) =>
        unit.Dependencies.Any(d => FactStreams.IsUnit(d) || d.StartsWith(StreamNames.BatchPrefix, StringComparison.Ordinal));

    private static BulkUnit Judge(LoadedUnits loaded, ProductUnit unit, References known) => new(
        unit,
        UnitRows.Of(Domain.Judging.Judge.Unit(unit, known)),
        loaded.Judgements.GetValueOrDefault(unit.Key.ToString(), JudgementOfMissing),
        UnitDraft.Watched(unit));
}
