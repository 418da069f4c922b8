using System.Collections.Concurrent;
using Npgsql;
using Traceability.Domain.Facts;
using Traceability.Service.Storage;

namespace Traceability.Service.Ingest;

/// <summary>Appends events to many streams in three statements, into the event store's own tables.</summary>
/// <remarks>
/// The store's public way costs one function call a stream (see docs/decisions/0002-set-based-append.md). The expected
/// version is checked for every stream: a new one must not exist, an existing one must have the version that was read.
/// A test reads back through the store what was written here.
/// </remarks>
internal static class EventAppender
{
    private static readonly ConcurrentDictionary<Type, string> DotNetTypes = new();

    private sealed record StreamVersion(string Stream, int Before, int After);

    /// <summary>Adds the statements. They fail the transaction when a stream isn't at the version that was read.</summary>
    public static void Add(NpgsqlBatch batch, IReadOnlyList<Append> appends, DateTimeOffset now)
    {
        var streams = appends
            .GroupBy(a => a.Stream, StringComparer.Ordinal)
            .Select(g => new StreamVersion(g.Key, g.Min(a => a.Version) - 1, g.Max(a => a.Version)))
            .OrderBy(s => s.Stream, StringComparer.Ordinal)
            .ToArray();
        var opened = streams.Where(s => s.Before == 0).ToArray();
        if (opened.Length > 0)
        {
            batch.BatchCommands.Add(Versions(opened, now).Checked(
                "insert into events.mt_streams (id, version, timestamp, created) select id, after, at, at from {rows} on conflict (id) do nothing",
                StoredRequirement.Stream));
        }

        var grown = streams.Where(s => s.Before > 0).ToArray();
        if (grown.Length > 0)
        {
            batch.BatchCommands.Add(Versions(grown, now).Checked(
                "update events.mt_streams s set version = r.after, timestamp = r.at from {rows} where s.id = r.id and s.version = r.before",
                StoredRequirement.Stream));
        }

        batch.BatchCommands.Add(new Unnest<Append>(appends)
            .Uuid("id", a => a.Posted.Id)
            .Text("stream_id", a => a.Stream)
            .Bigint("version", a => a.Version)
            .Json("data", a => FactCodec.Serialize(a.Fact))
            .Text("type", a => EventNames.Of(a.Fact.GetType()))
            .Time("timestamp", _ => now)
            .Text("mt_dotnet_type", a => DotNetTypeOf(a.Fact))
            .Statement(
                """
                insert into events.mt_events (seq_id, id, stream_id, version, data, type, timestamp, mt_dotnet_type)
                select nextval('events.mt_events_sequence'), id, stream_id, version, data, type, timestamp, mt_dotnet_type from {rows}
                """));
    }

    /// <summary>The name under which the event store knows a fact's type.</summary>
    internal static string DotNetTypeOf(Fact fact) => DotNetTypes.GetOrAdd(fact.GetType(), t => $"{t.FullName}, {t.Assembly.GetName().Name}");

    private static Unnest<StreamVersion> Versions(IReadOnlyCollection<StreamVersion> streams, DateTimeOffset now) =>
        new Unnest<StreamVersion>(streams)
            .Text("id", s => s.Stream)
            .Bigint("before", s => s.Before)
            .Bigint("after", s => s.After)
            .Time("at", _ => now);
}
