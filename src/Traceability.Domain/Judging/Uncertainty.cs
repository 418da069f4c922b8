using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Judging;

/// <summary>Which stored facts that can't be read a unit's judgement depends on.</summary>
internal static class Uncertainty
{
    /// <summary>The names of the streams that hold one, in order; empty for almost every unit.</summary>
    /// <param name="history">The unit.</param>
    /// <param name="asked">A record that is asked about and that names further streams; null for none.</param>
    public static ImmutableArray<string> Of(UnitHistory history, Fact? asked = null)
    {
        var unreadable = history.References.Unreadable;
        var own = StreamNames.Of(history.Unit.Key);
        var isOwn = history.Unreadable.Count > 0;
        if (unreadable.IsEmpty)
        {
            return isOwn ? [own] : [];
        }

        var names = new SortedSet<string>(Dependencies.Of(history.Unit), StringComparer.Ordinal);
        if (asked is not null)
        {
            Dependencies.Add(names, asked);
        }

        if (history.CureLooks is { } looks)
        {
            names.UnionWith(looks.Streams);
        }

        var batches = new Queue<string>(names.Where(n => n.StartsWith(StreamNames.BatchPrefix, StringComparison.Ordinal)));
        while (batches.TryDequeue(out var batch))
        {
            IEnumerable<string> of = history.References.FindBatch(BatchKey.Parse(batch[StreamNames.BatchPrefix.Length..])) is { } known ? Dependencies.Of(known) : [];
            foreach (var name in of)
            {
                if (names.Add(name) && name.StartsWith(StreamNames.BatchPrefix, StringComparison.Ordinal))
                {
                    batches.Enqueue(name);
                }
            }
        }

        // A site gives the days, and is reached through its stations.
        foreach (var station in names.Where(n => n.StartsWith("station/", StringComparison.Ordinal)).ToArray())
        {
            if (history.References.FindStation(StationCode.Parse(station["station/".Length..])) is { } defined)
            {
                names.Add(StreamNames.Of(defined.Site));
            }
        }

        AddSources(names, history.References);
        names.IntersectWith(unreadable);
        names.Remove(own);
        return isOwn ? [own, .. names] : [.. names];
    }

    // A lot is judged with the lots that it was made of.
    private static void AddSources(SortedSet<string> names, IReferences references)
    {
        var open = new Queue<string>(names.Where(n => n.StartsWith(StreamNames.LotPrefix, StringComparison.Ordinal)));
        while (open.TryDequeue(out var name))
        {
            foreach (var source in references.FindLot(LotKey.Parse(name[StreamNames.LotPrefix.Length..]))?.Sources() ?? [])
            {
                if (names.Add(StreamNames.Of(source)))
                {
                    open.Enqueue(StreamNames.Of(source));
                }
            }
        }
    }

    /// <summary>Adds a finding for each stream but the unit's own, whose records have findings of their own.</summary>
    public static void Tell(UnitHistory history, ImmutableArray<string> unreadable, FindingSink sink)
    {
        foreach (var stream in unreadable)
        {
            if (!stream.StartsWith(StreamNames.UnitPrefix, StringComparison.Ordinal) || stream != StreamNames.Of(history.Unit.Key))
            {
                sink.AddOnUnit(history.OpenedAt ?? DateTimeOffset.MinValue, FindingKinds.ReferenceUnreadable, stream, Say(stream), ("stream", stream));
            }
        }
    }

    /// <summary>The sentence for a person.</summary>
    public static string Say(string stream) => $"A stored record of {stream} can't be read: what was judged by it may be wrong.";
}
