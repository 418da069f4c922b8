using System.Data;
using System.Threading.Channels;
using Npgsql;
using Traceability.Domain.Facts;
using Traceability.Service.Ingest.Bulk;

namespace Traceability.Service.Features.Rebuilds;

/// <summary>Fills the second tables: pages of units, judged on every core, written by binary COPY.</summary>
internal sealed class ShadowLoad(NpgsqlDataSource database, ShadowJudge judge, RebuildOptions options, RebuildProgress progress)
{
    private const int StreamsMax = 4_000;

    /// <summary>Judges every unit and writes its rows, except those of units that name components: of them where these are.</summary>
    public Task FirstAsync(CancellationToken cancellation) => InPagesAsync(ReadUnitsAsync, FirstPageAsync, cancellation);

    /// <summary>Judges the units that name components, and writes their rows.</summary>
    public Task SecondAsync(CancellationToken cancellation) => InPagesAsync(ReadLaterAsync, SecondPageAsync, cancellation);

    private async Task FirstPageAsync(NpgsqlConnection connection, string[] streams, CancellationToken cancellation)
    {
        var loaded = await judge.LoadAsync(connection, streams, cancellation);
        var units = (await ShadowJudge.JudgeAsync(loaded, cancellation)).ToLookup(ShadowJudge.NamesComponents);
        BulkUnit[] whole = [.. units[false]];
        BulkUnit[] later = [.. units[true]];
        await OwnThread.RunAsync(
            () =>
            {
                UnitTables.Write(connection, ShadowTables.Next, whole);
                UnitTables.WriteNamed(connection, ShadowTables.Next, later);
            },
            cancellation);
        if (later.Length > 0)
        {
            await Sql.ExecuteAsync(connection, $"insert into {ShadowTables.Next}.later (stream) select unnest($1)", cancellation, [later.Select(u => StreamNames.UnitPrefix + u.Name).ToArray()]);
        }

        progress.Add(whole.Length, loaded.Facts);
    }

    private async Task SecondPageAsync(NpgsqlConnection connection, string[] streams, CancellationToken cancellation)
    {
        var loaded = await judge.LoadAsync(connection, streams, cancellation);
        var units = await ShadowJudge.JudgeWithComponentsAsync(connection, loaded, cancellation);
        await OwnThread.RunAsync(
            () =>
            {
                UnitTables.Units.Write(connection, ShadowTables.Next, units);
                UnitTables.WriteRows(connection, ShadowTables.Next, units, withNamed: false);
            },
            cancellation);
        progress.Add(units.Count, 0);
    }

    private async Task ReadUnitsAsync(NpgsqlConnection connection, Func<string, long, Task> found, CancellationToken cancellation)
    {
        var last = string.Empty;
        while (true)
        {
            var streams = await Sql.ListAsync(
                connection,
                FormattableString.Invariant($"select id, version from events.mt_streams where id like '{StreamNames.UnitPrefix}%' and id > $1 order by id limit {StreamsMax}"),
                r => (Id: r.GetString(0), Version: r.GetInt64(1)),
                cancellation,
                last);
            foreach (var (id, version) in streams)
            {
                await found(id, version);
            }

            if (streams.Count < StreamsMax)
            {
                return;
            }

            last = streams[^1].Id;
        }
    }

    private async Task ReadLaterAsync(NpgsqlConnection connection, Func<string, long, Task> found, CancellationToken cancellation)
    {
        var last = 0L;
        while (true)
        {
            var streams = await Sql.ListAsync(
                connection,
                FormattableString.Invariant($"select l.id, l.stream, s.version from {ShadowTables.Next}.later l join events.mt_streams s on s.id = l.stream where l.id > $1 order by l.id limit {StreamsMax}"),
                r => (Id: r.GetInt64(0), Stream: r.GetString(1), Version: r.GetInt64(2)),
                cancellation,
                last);
            foreach (var (_, stream, version) in streams)
            {
                await found(stream, version);
            }

            if (streams.Count < StreamsMax)
            {
                return;
            }

            last = streams[^1].Id;
        }
    }

    // A page is bounded by its facts, so memory is; pages wait for a free worker, never the other way.
    private async Task InPagesAsync(
        Func<NpgsqlConnection, Func<string, long, Task>, CancellationToken, Task> read,
        Func<NpgsqlConnection, string[], CancellationToken, Task> work,
        CancellationToken cancellation)
    {
        using var stopping = CancellationTokenSource.CreateLinkedTokenSource(cancellation);
        var pages = Channel.CreateBounded<string[]>(options.WorkersMax);
        Task[] workers = [.. Enumerable.Range(0, options.WorkersMax).Select(_ => StopAllOnFailure(() => WorkAsync(pages.Reader, work, stopping.Token)))];
        var reader = StopAllOnFailure(async () =>
        {
            await using var connection = await database.OpenConnectionAsync(stopping.Token);
            List<string> page = [];
            var facts = 0L;
            await read(
                connection,
                async (stream, version) =>
                {
                    page.Add(stream);
                    facts += version;
                    if (facts >= options.PageFactsMax)
                    {
                        await pages.Writer.WriteAsync([.. page], stopping.Token);
                        page.Clear();
                        facts = 0;
                    }
                },
                stopping.Token);
            await pages.Writer.WriteAsync([.. page], stopping.Token);
            pages.Writer.Complete();
        });
        var all = Task.WhenAll([.. workers, reader]);
        try
        {
            await all;
        }
        catch (OperationCanceledException) when (!cancellation.IsCancellationRequested)
        {
            // The first failure stopped the others: it is what there is to tell.
            throw all.Exception?.InnerExceptions.FirstOrDefault(e => e is not OperationCanceledException) ?? new InvalidOperationException("A worker was stopped.");
        }

        Task StopAllOnFailure(Func<Task> run) => Task.Run(
            async () =>
            {
                try
                {
                    await run();
                }
                catch
                {
                    await stopping.CancelAsync();
                    throw;
                }
            },
            CancellationToken.None);
    }

    private async Task WorkAsync(ChannelReader<string[]> pages, Func<NpgsqlConnection, string[], CancellationToken, Task> work, CancellationToken cancellation)
    {
        await foreach (var page in pages.ReadAllAsync(cancellation))
        {
            await using var connection = await database.OpenConnectionAsync(cancellation);
            await using var transaction = await connection.BeginTransactionAsync(IsolationLevel.RepeatableRead, cancellation);
            await work(connection, page, cancellation);
            await transaction.CommitAsync(cancellation);
            await progress.SaveAsync(cancellation);
        }
    }
}
