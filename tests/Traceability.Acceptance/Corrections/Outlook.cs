using System.Collections.Immutable;
using Npgsql;
using Traceability.Acceptance.Robustness;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Lots;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;

namespace Traceability.Acceptance.Corrections;

/// <summary>Every unit judged anew from all that is stored, with what each judgement looked at, and how often the service has judged it.</summary>
/// <param name="Judged">The judgements.</param>
/// <param name="Looked">The streams that each judgement looked at.</param>
/// <param name="Named">The streams that each unit's facts name, whether they count or not.</param>
/// <param name="Counts">How many judgements the service has stored of each unit.</param>
internal sealed record Outlook(
    SortedDictionary<string, UnitJudgement> Judged, Dictionary<string, HashSet<string>> Looked, Dictionary<string, HashSet<string>> Named, Dictionary<string, long> Counts)
{
    /// <summary>As the database stands.</summary>
    public static async Task<Outlook> ReadAsync(NpgsqlDataSource database)
    {
        var streams = await FreshJudgement.StreamsAsync(database);
        var looked = new Dictionary<string, HashSet<string>>(StringComparer.Ordinal);
        var judged = FreshJudgement.JudgeAll(streams, (unit, references) => new NotedReferences(references, looked[unit.ToString()] = new(StringComparer.Ordinal)));
        var sources = streams.Where(s => s.Key.StartsWith(StreamNames.LotPrefix, StringComparison.Ordinal)).ToDictionary(s => s.Key, s => Sources(s.Value), StringComparer.Ordinal);
        var named = judged.Keys.ToDictionary(
            u => u, u => WithSources([.. Dependencies.Of(ProductUnit.Of(UnitKey.Parse(u), streams[StreamNames.UnitPrefix + u]))], sources), StringComparer.Ordinal);
        return new(judged, looked, named, await CountsAsync(database));
    }

    /// <summary>The units that look at one of the streams.</summary>
    public IEnumerable<string> Lookers(IReadOnlyCollection<string> streams) => Looked.Where(l => l.Value.Overlaps(streams)).Select(l => l.Key);

    /// <summary>The units whose facts name one of the streams.</summary>
    public IEnumerable<string> Namers(IReadOnlyCollection<string> streams) => Named.Where(l => l.Value.Overlaps(streams)).Select(l => l.Key);

    /// <summary>The components that are or were somewhere else than before, as a judgement looks at them.</summary>
    public IEnumerable<string> Moved(Outlook before)
    {
        var was = Places(before);
        var now = Places(this);
        return was.Concat(now).Select(p => p.Key).Distinct().Where(c => !was[c].ToHashSet().SetEquals(now[c])).Select(NotedReferences.Inside);
    }

    private static ILookup<UnitKey, Installation> Places(Outlook outlook) => outlook.Judged.Values.SelectMany(j => j.Installations).ToLookup(i => i.Component);

    private static string[] Sources(ImmutableArray<RecordedFact> facts) =>
        [.. facts.Select(f => f.Fact is RecordCorrected c ? c.Replacement : f.Fact).OfType<ILotInflow>().SelectMany(i => i.Sources).Select(s => StreamNames.Of(s.Lot))];

    private static HashSet<string> WithSources(HashSet<string> names, Dictionary<string, string[]> sources)
    {
        var open = new Queue<string>(names);
        while (open.TryDequeue(out var name))
        {
            foreach (var source in sources.GetValueOrDefault(name, []).Where(names.Add))
            {
                open.Enqueue(source);
            }
        }

        return names;
    }

    private static async Task<Dictionary<string, long>> CountsAsync(NpgsqlDataSource database)
    {
        var counts = new Dictionary<string, long>(StringComparer.Ordinal);
        await using var command = database.CreateCommand("select unit, judgement from traceability.unit");
        await using var reader = await command.ExecuteReaderAsync();
        while (await reader.ReadAsync())
        {
            counts[reader.GetString(0)] = reader.GetInt64(1);
        }

        return counts;
    }
}
