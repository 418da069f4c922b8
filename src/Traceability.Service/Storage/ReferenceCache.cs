using Npgsql;
using NpgsqlTypes;
using Traceability.Domain.Batches;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Lots;
using Traceability.Domain.Sites;

namespace Traceability.Service.Storage;

/// <summary>Everything that judgements look at beside the units: definitions, lots, tools, people. Held in memory, folded.</summary>
/// <remarks>
/// Every change of such a stream raises one number in the database (the reference clock), under a lock that group commits
/// share: a reader that knows the number knows whether what it holds is current. Streams are loaded when first asked for.
/// A snapshot is immutable; the cache is safe for use by several threads.
/// </remarks>
internal sealed class ReferenceCache(StorageLimits limits) : IDisposable
{
    /// <summary>Reads the reference clock in the connection's view of the database.</summary>
    public const string SeqQuery = "select seq from traceability.reference_clock";

    private readonly SemaphoreSlim _loading = new(1, 1);
    private Snapshot _current = new(0, References.None, ImmutableHashSet.Create<string>(StringComparer.Ordinal), Generation: 1);

    /// <summary>What is held, as of one value of the reference clock. A name in Known that References lacks does not exist.</summary>
    /// <param name="Seq">The reference clock.</param>
    /// <param name="References">What is held.</param>
    /// <param name="Known">The names of what was looked for.</param>
    /// <param name="Generation">What one snapshot knows, all later ones of the same generation know; 0 belongs to none.</param>
    internal sealed record Snapshot(long Seq, References References, ImmutableHashSet<string> Known, int Generation);

    /// <summary>The generation of what is held now.</summary>
    public int Generation => Volatile.Read(ref _current).Generation;

    /// <summary>The reference clock that the cache has seen last; 0 when it holds nothing.</summary>
    public long LastSeq => Volatile.Read(ref _current).Seq;

    /// <summary>A snapshot that is current in the connection's view of the database and knows all these streams.</summary>
    public async Task<Snapshot> GetAsync(NpgsqlConnection connection, long seq, IReadOnlyCollection<string> streams, CancellationToken cancellation)
    {
        var current = Volatile.Read(ref _current);
        if (current.Seq == seq && !streams.Any(s => !current.Known.Contains(s)))
        {
            return current;
        }

        if (seq < current.Seq)
        {
            // The connection looks at an older state of the database than the cache holds: what it reads is not for sharing.
            return await LoadAsync(connection, new(seq, References.None, current.Known.Clear(), Generation: 0), seq, [.. streams], cancellation);
        }

        await _loading.WaitAsync(cancellation);
        try
        {
            current = _current;
            if (current.Known.Count > limits.ReferencesMax)
            {
                current = new(0, References.None, current.Known.Clear(), current.Generation + 1);
            }

            var load = streams.Where(s => !current.Known.Contains(s)).ToHashSet(StringComparer.Ordinal);
            if (current.Seq < seq)
            {
                load.UnionWith(await ChangedAsync(connection, current, cancellation));
            }

            if (seq < current.Seq)
            {
                return await LoadAsync(connection, new(seq, References.None, current.Known.Clear(), Generation: 0), seq, [.. streams], cancellation);
            }

            current = await LoadAsync(connection, current, seq, load, cancellation);
            Volatile.Write(ref _current, current);
            return current;
        }
        finally
        {
            _loading.Release();
        }
    }

    /// <summary>The same, with the streams of temperatures that may be looked at: which they are, the units' routings tell.</summary>
    /// <param name="connection">Gives the view.</param>
    /// <param name="seq">The reference clock in it.</param>
    /// <param name="streams">The streams.</param>
    /// <param name="temperatures">The further ones, told by what is known then; null for none, as almost always.</param>
    /// <param name="cancellation">Gives up.</param>
    public async Task<Snapshot> GetAsync(
        NpgsqlConnection connection, long seq, IReadOnlyCollection<string> streams, Func<References, IReadOnlyCollection<string>?> temperatures, CancellationToken cancellation)
    {
        var snapshot = await GetAsync(connection, seq, streams, cancellation);
        return temperatures(snapshot.References) is { } more ? await GetAsync(connection, seq, [.. streams, .. more], cancellation) : snapshot;
    }

    /// <summary>The reference clock in the connection's view of the database.</summary>
    public static async Task<long> SeqAsync(NpgsqlConnection connection, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand(SeqQuery, connection);
        return (long)(await command.ExecuteScalarAsync(cancellation))!;
    }

    /// <inheritdoc />
    public void Dispose() => _loading.Dispose();

    private static async Task<List<string>> ChangedAsync(NpgsqlConnection connection, Snapshot current, CancellationToken cancellation)
    {
        var changed = new List<string>();
        await using var command = new NpgsqlCommand("select stream from traceability.reference_stream where seq > $1", connection)
        {
            Parameters = { new() { Value = current.Seq, NpgsqlDbType = NpgsqlDbType.Bigint } },
        };
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        while (await reader.ReadAsync(cancellation))
        {
            if (current.Known.Contains(reader.GetString(0)))
            {
                changed.Add(reader.GetString(0));
            }
        }

        return changed;
    }

    private static async Task<Snapshot> LoadAsync(
        NpgsqlConnection connection, Snapshot current, long seq, HashSet<string> load, CancellationToken cancellation)
    {
        var references = current.References;
        var known = current.Known;
        while (load.Count > 0)
        {
            var further = new HashSet<string>(StringComparer.Ordinal);
            var batches = new List<Domain.Primitives.BatchKey>();
            foreach (var (stream, facts) in await EventReader.LoadAsync(connection, load, cancellation))
            {
                var state = References.Fold(stream, facts);
                references = references.With(stream, state);
                switch ((state as UncertainState)?.State ?? state)
                {
                    case StationDefined station:
                        further.Add(StreamNames.Of(station.Site));
                        break;
                    case Batch batch:
                        further.UnionWith(Dependencies.Of(batch));
                        batches.Add(batch.Key);
                        break;
                    case Lot { HasSources: true } lot:
                        further.UnionWith(lot.Sources().Select(StreamNames.Of));
                        further.UnionWith(lot.Sources().Where(s => s.Item != lot.Key.Item).Select(s => StreamNames.OfItem(s.Item)));
                        break;
                }
            }

            // A batch comes with those that it was split off, as what its records name does, and with those that were split off it.
            further.UnionWith(await BatchTaking.SplitFromAsync(connection, batches, cancellation));

            // A station's site comes along: it gives the day that a step belongs to. So do the lots that a lot was made of, and
            // what the records of a batch name.
            known = known.Union(load);
            further.RemoveWhere(known.Contains);
            load = further;
        }

        return new(seq, references, known, current.Generation);
    }
}

/// <summary>Limits of what the service keeps in memory.</summary>
/// <param name="ReferencesMax">The most streams that the reference cache holds before it starts anew.</param>
internal sealed record StorageLimits(int ReferencesMax = 50_000);
