using System.Collections.Concurrent;
using Npgsql;
using Traceability.Domain.Facts;
using Traceability.Service.Storage;

namespace Traceability.Service.Ingest;

/// <summary>A stream that grows.</summary>
internal sealed record StreamVersion(string Stream, int Before, int After, DateTimeOffset At);

/// <summary>Appends events to many streams, with their receipts, into the event store's own tables.</summary>
/// <remarks>
/// The store's public way costs one function call a stream (see docs/decisions/0002-set-based-append.md). The expected
/// version is checked for every stream: a new one must not exist, an existing one must have the version that was read.
/// A test reads back through the store what was written here.
/// </remarks>
internal static class EventAppender
{
    private static readonly ConcurrentDictionary<Type, string> DotNetTypes = new();

    /// <summary>Existing streams, and what is done to each.</summary>
    public const string Grow =
        "update events.mt_streams s set version = r.after, timestamp = r.at from {rows} where s.id = r.id and s.version = r.before";

    /// <summary>Events, and what is done with each.</summary>
    public const string Insert =
        """
        insert into events.mt_events (seq_id, id, stream_id, version, data, type, timestamp, mt_dotnet_type)
        select nextval('events.mt_events_sequence'), id, stream_id, version, data, type, timestamp, mt_dotnet_type from {rows}
        """;

    /// <summary>The streams.</summary>
    public static readonly Columns<StreamVersion> Streams = new Columns<StreamVersion>()
        .Text("id", s => s.Stream)
        .Bigint("before", s => s.Before)
        .Bigint("after", s => s.After)
        .Time("at", s => s.At);

    /// <summary>The events.</summary>
    public static readonly Columns<Append> Events = new Columns<Append>()
        .Uuid("id", a => a.Posted.Id)
        .Text("stream_id", a => a.Stream)
        .Bigint("version", a => a.Version)
        .Json("data", a => FactCodec.Serialize(a.Fact))
        .Text("type", a => EventNames.Of(a.Fact.GetType()))
        .Time("timestamp", a => a.RecordedAt)
        .Text("mt_dotnet_type", a => DotNetTypeOf(a.Fact));

    /// <summary>The receipts.</summary>
    public static readonly Columns<Append> Receipts = new Columns<Append>()
        .Uuid("fact_id", a => a.Posted.Id)
        .Bytes("content_hash", a => a.Posted.ContentHash)
        .Text("stream", a => a.Stream)
        .Integer("version", a => a.Version)
        .Time("recorded_at", a => a.RecordedAt)
        .Json("answer", a => a.Findings);

    private static readonly Statement<StreamVersion> Open = Streams.Checked(
        "insert into events.mt_streams (id, version, timestamp, created) select id, after, at, at from {rows} on conflict (id) do nothing",
        StoredRequirement.Stream);

    /// <summary>The streams that the events belong to, in the order in which they are locked.</summary>
    public static StreamVersion[] StreamsOf(IReadOnlyList<Append> appends)
    {
        var streams = new Dictionary<string, StreamVersion>(appends.Count, StringComparer.Ordinal);
        foreach (var append in appends)
        {
            // A stream's events come in the order of their versions.
            streams[append.Stream] = streams.TryGetValue(append.Stream, out var known)
                ? known with { After = append.Version }
                : new(append.Stream, append.Version - 1, append.Version, append.RecordedAt);
        }

        StreamVersion[] sorted = [.. streams.Values];
        Array.Sort(sorted, static (a, b) => string.CompareOrdinal(a.Stream, b.Stream));
        return sorted;
    }

    /// <summary>Adds the streams that begin. It fails the transaction when one of them is there.</summary>
    public static void AddOpened(NpgsqlBatch batch, IReadOnlyList<StreamVersion> streams) =>
        Open.AddTo(batch, [.. streams.Where(s => s.Before == 0)]);

    /// <summary>The name under which the event store knows a fact's type.</summary>
    public static string DotNetTypeOf(Fact fact) => DotNetTypes.GetOrAdd(fact.GetType(), t => $"{t.FullName}, {t.Assembly.GetName().Name}");
}
