using System.Diagnostics.CodeAnalysis;
using Npgsql;

namespace Traceability.Service.Storage.Answers;

/// <summary>Opens second connections that see the same moment as the one of an answer, so that two processors look up many rows.</summary>
/// <remarks>
/// At most one is open at a time: it makes a large answer faster where nothing else goes on, and is no reason to keep others waiting
/// for connections. Only of the primary: of several replicas another one might be met, which knows nothing of the moment.
/// </remarks>
/// <param name="primary">What first connections are of.</param>
/// <param name="open">Opens a connection.</param>
internal sealed class SecondSessions(NpgsqlDataSource primary, Func<CancellationToken, ValueTask<NpgsqlConnection>> open) : IDisposable
{
    // Whoever waits to change a table that the first connection reads would be waited for here, and waits for the first, which waits for this one.
    private const string LockTimeout = "set local lock_timeout = '50ms'";

    private readonly SemaphoreSlim _free = new(1);

    /// <summary>Opens them from the same pool.</summary>
    public SecondSessions(NpgsqlDataSource primary)
        : this(primary, primary.OpenConnectionAsync)
    {
    }

    /// <summary>Whether a session can have a second one.</summary>
    public bool AreFor(NpgsqlConnection first) => string.Equals(first.ConnectionString, primary.ConnectionString, StringComparison.Ordinal);

    /// <summary>Opens one; null while another one is open.</summary>
    /// <param name="moment">The moment, as the first connection's transaction tells it by pg_export_snapshot.</param>
    /// <param name="begin">What its transaction begins with.</param>
    /// <param name="cancellation">Stops it.</param>
    [SuppressMessage("Reliability", "CA2000:Dispose objects before losing scope", Justification = "The one that is given back closes it.")]
    public async Task<SecondSession?> TryOpenAsync(string moment, NpgsqlBatchCommand begin, CancellationToken cancellation)
    {
        if (!_free.Wait(0, CancellationToken.None))
        {
            return null;
        }

        AnswerSession? session = null;
        try
        {
            session = await AnswerDatabase.BeginAsync(await open(cancellation), cancellation);
            await using var batch = new NpgsqlBatch(session.Connection) { BatchCommands = { new($"set transaction snapshot '{moment}'"), new(LockTimeout), begin } };
            await batch.ExecuteNonQueryAsync(cancellation);
            return new(session, _free);
        }
        catch
        {
            if (session is not null)
            {
                await session.DisposeAsync();
            }

            _free.Release();
            throw;
        }
    }

    /// <inheritdoc />
    public void Dispose() => _free.Dispose();
}

/// <summary>A second connection that sees the same moment.</summary>
internal sealed class SecondSession(AnswerSession session, SemaphoreSlim free) : IAsyncDisposable
{
    /// <summary>The connection, in a transaction.</summary>
    public NpgsqlConnection Connection => session.Connection;

    /// <inheritdoc />
    public async ValueTask DisposeAsync()
    {
        await session.DisposeAsync();
        free.Release();
    }
}
