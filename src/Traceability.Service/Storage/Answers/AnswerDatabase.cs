using System.Data;
using System.Diagnostics.CodeAnalysis;
using System.Globalization;
using Npgsql;

namespace Traceability.Service.Storage.Answers;

/// <summary>One snapshot of the database to answer from.</summary>
internal sealed class AnswerSession(NpgsqlConnection connection, NpgsqlTransaction transaction) : IAsyncDisposable
{
    /// <summary>The connection, in a transaction that sees one moment.</summary>
    public NpgsqlConnection Connection { get; } = connection;

    /// <summary>Everything acknowledged before this moment is in the snapshot; null where nobody asked how old it is.</summary>
    public DateTimeOffset? Watermark { get; set; }

    /// <summary>Ends it. Nobody waits until the database has heard of that: what was read is read.</summary>
    public ValueTask DisposeAsync()
    {
        _ = EndAsync();
        return ValueTask.CompletedTask;
    }

    private async Task EndAsync()
    {
        try
        {
            await transaction.DisposeAsync();
        }
        catch (NpgsqlException)
        {
            // The connection is lost, and the snapshot with it: nothing is left to end.
        }
        finally
        {
            await Connection.DisposeAsync();
        }
    }
}

/// <summary>Opens snapshots for answers about many units: of a replica that is not too far behind, else of the primary.</summary>
/// <remarks>
/// Where replicas are configured each answer says in the header <see cref="Header"/> up to when it holds everything: every fact
/// acknowledged before that moment is in it. A replica tells that by <see cref="ReplicaBeat"/>'s row in the same snapshot: what was
/// acknowledged before the row was written was committed before it, and a replica replays commits in their order. If nobody writes
/// the row any more, or the replica is cut off, it grows old, and the primary answers.
/// </remarks>
internal sealed class AnswerDatabase(NpgsqlDataSource primary, ReadReplicas replicas, IHttpContextAccessor http, TimeProvider clock)
{
    /// <summary>The response header.</summary>
    public const string Header = "Watermark";

    private static readonly TimeSpan OpenTimeout = TimeSpan.FromSeconds(2);
    private static readonly TimeSpan Rest = TimeSpan.FromSeconds(1);
    private volatile ReplicaTrouble? _trouble;

    /// <summary>Why no replica answers now; null while one does, or none is configured.</summary>
    public ReplicaTrouble? Trouble => _trouble;

    /// <summary>Opens a snapshot.</summary>
    public async Task<AnswerSession> OpenAsync(CancellationToken cancellation)
    {
        if (!replicas.AreThere)
        {
            return await OpenPrimaryAsync(cancellation);
        }

        if (_trouble is not { } trouble || clock.GetUtcNow() - trouble.LastAt > Rest)
        {
            if (await TryReplicaAsync(cancellation) is { } found)
            {
                Say(found.Watermark!.Value);
                return found;
            }
        }

        Say(clock.GetUtcNow());
        return await OpenPrimaryAsync(cancellation);
    }

    /// <summary>Looks whether a replica would answer, so that <see cref="Trouble"/> is right also while nobody asks.</summary>
    public async Task ProbeAsync(CancellationToken cancellation)
    {
        if (replicas.AreThere && await TryReplicaAsync(cancellation) is { } found)
        {
            await found.DisposeAsync();
        }
    }

    private async Task<AnswerSession> OpenPrimaryAsync(CancellationToken cancellation) => await BeginAsync(await primary.OpenConnectionAsync(cancellation), cancellation);

    /// <summary>Begins a snapshot on a connection, which is closed if that fails.</summary>
    internal static async Task<AnswerSession> BeginAsync(NpgsqlConnection connection, CancellationToken cancellation)
    {
        try
        {
            return new(connection, await connection.BeginTransactionAsync(IsolationLevel.RepeatableRead, cancellation));
        }
        catch
        {
            await connection.DisposeAsync();
            throw;
        }
    }

    [SuppressMessage("Reliability", "CA2000:Dispose objects before losing scope", Justification = "The next method takes the session over and closes it where it gives none back.")]
    private async Task<AnswerSession?> TryReplicaAsync(CancellationToken cancellation)
    {
        using var timeout = CancellationTokenSource.CreateLinkedTokenSource(cancellation);
        timeout.CancelAfter(OpenTimeout);
        try
        {
            var connection = await replicas.OpenAsync(timeout.Token);
            return await WithWatermarkAsync(await BeginAsync(connection, timeout.Token), timeout.Token);
        }
        catch (Exception exception) when (exception is NpgsqlException || (exception is OperationCanceledException && !cancellation.IsCancellationRequested))
        {
            _trouble = Next($"The replica does not answer ({exception.GetType().Name}).");
            return null;
        }
    }

    // Takes the session over: it comes back with its watermark, or is closed.
    private async Task<AnswerSession?> WithWatermarkAsync(AnswerSession session, CancellationToken cancellation)
    {
        try
        {
            session.Watermark = await WatermarkAsync(session.Connection, cancellation);
        }
        finally
        {
            if (session.Watermark is null)
            {
                await session.DisposeAsync();
            }
        }

        return session.Watermark is null ? null : session;
    }

    // Null, with the trouble noted, if it is too far behind to answer.
    private async Task<DateTimeOffset?> WatermarkAsync(NpgsqlConnection connection, CancellationToken cancellation)
    {
        await using var command = new NpgsqlCommand(
            "select pg_is_in_recovery(), at, extract(epoch from clock_timestamp() - at)::float8, clock_timestamp() from traceability.replica_beat", connection);
        await using var reader = await command.ExecuteReaderAsync(cancellation);
        await reader.ReadAsync(cancellation);
        if (!reader.GetBoolean(0))
        {
            // No standby answers, and the primary was named beside them.
            _trouble = Next("No standby answers.");
            return reader.GetFieldValue<DateTimeOffset>(3);
        }

        var lag = reader.GetDouble(2);
        if (lag <= replicas.LagMax.TotalSeconds)
        {
            _trouble = null;
            return reader.GetFieldValue<DateTimeOffset>(1);
        }

        _trouble = Next(double.IsInfinity(lag)
            ? "The replica has no moment to tell how far it has come."
            : string.Create(CultureInfo.InvariantCulture, $"The replica is {lag:0.0} s behind."));
        return null;
    }

    private ReplicaTrouble Next(string what) => new(_trouble?.Since ?? clock.GetUtcNow(), clock.GetUtcNow(), what);

    // An answer that is put together from several snapshots is as old as the oldest.
    private void Say(DateTimeOffset at)
    {
        if (http.HttpContext is { Response: { HasStarted: false } response }
            && !(DateTimeOffset.TryParse(response.Headers[Header], CultureInfo.InvariantCulture, out var before) && before <= at))
        {
            response.Headers[Header] = at.UtcDateTime.ToString("yyyy-MM-dd'T'HH:mm:ss.ffffff'Z'", CultureInfo.InvariantCulture);
        }
    }
}

/// <summary>Why no replica answers.</summary>
/// <param name="Since">Since when.</param>
/// <param name="LastAt">When it was tried last.</param>
/// <param name="What">What was found.</param>
internal sealed record ReplicaTrouble(DateTimeOffset Since, DateTimeOffset LastAt, string What);
