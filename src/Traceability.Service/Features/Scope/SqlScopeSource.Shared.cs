using System.Collections.Concurrent;
using Npgsql;
using Traceability.Domain.Scope;
using Traceability.Service.Storage.Answers;

namespace Traceability.Service.Features.Scope;

/// <content>Many components, looked up by two connections that see the same moment.</content>
internal sealed partial class SqlScopeSource
{
    private const int Parts = 8;

    private const string Moment = "select pg_export_snapshot()";

    private readonly Lock _sharing = new();
    private string? _moment;

    /// <summary>Gives second connections; null: everything is looked up by the one.</summary>
    public SecondSessions? Seconds { get; init; }

    /// <summary>Components are shared out so many at a time at the least.</summary>
    public int PartLeast { get; init; } = 600;

    /// <summary>How many parts a second connection has looked up so far.</summary>
    public int PartsOfSecond { get; private set; }

    // What nobody has begun is taken by whichever connection is free next. The second one may come late, or never, or fail: the first
    // one does what is left.
    private async ValueTask ShareAsync(IReadOnlyCollection<string> components, ILevelRows into, CancellationToken cancellation)
    {
        var left = new ConcurrentQueue<string[]>(components.Chunk(Math.Max(PartLeast, (components.Count + Parts - 1) / Parts)));
        if (_moment is null)
        {
            await using var command = new NpgsqlCommand(Moment, connection);
            _moment = (string)(await command.ExecuteScalarAsync(cancellation))!;
        }

        using var opening = CancellationTokenSource.CreateLinkedTokenSource(cancellation);
        var second = ShareWithSecondAsync(_moment, left, into, opening.Token, cancellation);
        try
        {
            await LookUpAsync(connection, left, into, cancellation);
        }
        catch
        {
            left.Clear();
            throw;
        }
        finally
        {
            await opening.CancelAsync();
            await second;
        }

        await LookUpAsync(connection, left, into, cancellation);
    }

    private bool IsShared(int components) => components > Math.Max(FewUnits, PartLeast) && Seconds?.AreFor(connection) == true;

    private async Task ShareWithSecondAsync(
        string moment, ConcurrentQueue<string[]> left, ILevelRows into, CancellationToken opening, CancellationToken cancellation)
    {
        try
        {
            await using var second = await Seconds!.TryOpenAsync(moment, ScopePlans.Command(), opening);
            if (second is not null)
            {
                await LookUpAsync(second.Connection, left, into, cancellation);
            }
        }
        catch (Exception exception) when (exception is NpgsqlException or OperationCanceledException)
        {
            // Nothing is lost by it: what this one had begun is there to be taken again.
        }
    }

    private async Task LookUpAsync(NpgsqlConnection by, ConcurrentQueue<string[]> left, ILevelRows into, CancellationToken cancellation)
    {
        while (left.TryDequeue(out var part))
        {
            InstallationRow[] rows;
            try
            {
                await using var command = new NpgsqlCommand(LevelSql.Installations, by) { Parameters = { Texts(part) } };
                await using var reader = await command.ExecuteReaderAsync(cancellation);
                rows = await ReadManyAsync(reader, r => Installation(r, isOfFew: false), cancellation);
            }
            catch
            {
                left.Enqueue(part);
                throw;
            }

            lock (_sharing)
            {
                PartsOfSecond += ReferenceEquals(by, connection) ? 0 : 1;
                foreach (ref readonly var row in rows.AsSpan())
                {
                    into.Add(row);
                }
            }
        }
    }
}
