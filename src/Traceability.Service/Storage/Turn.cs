using System.Globalization;
using Npgsql;

namespace Traceability.Service.Storage;

/// <summary>Of several instances of the service, one at a time has the turn for work that one is enough for.</summary>
/// <remarks>
/// The turn is an advisory lock of a session that does nothing else. It is free at once when its holder dies, and after
/// <see cref="StorageOptions.AbandonedAfter"/> when its holder stands still or can't be reached: the server ends a session
/// that says nothing for so long. A holder that comes to itself again may finish what it had begun; so the work itself must
/// be safe when two do it, and the turn only saves doing it twice. For one caller at a time.
/// </remarks>
internal sealed partial class Turn(string connectionString, StorageOptions options, long key, TimeProvider clock, ILogger<Turn> logger) : IAsyncDisposable, IDisposable
{
    /// <summary>The key of the turn for judging again.</summary>
    public const long Rejudging = 7_270_003;

    /// <summary>Beginning of the name of the sessions that hold a turn or wait for one; the process id follows, so that a person sees who has it.</summary>
    public const string SessionName = "traceability-turn-";

    private static readonly TimeSpan LookMax = TimeSpan.FromSeconds(1);

    private readonly NpgsqlDataSource _source = NpgsqlDataSource.Create(new NpgsqlConnectionStringBuilder(connectionString)
    {
        Pooling = false,
        ApplicationName = SessionName + Environment.ProcessId.ToString(CultureInfo.InvariantCulture),
        CommandTimeout = 5,
        Options = string.Create(CultureInfo.InvariantCulture, $"-c idle_session_timeout={(long)options.AbandonedAfter.TotalMilliseconds}"),
    }.ConnectionString);

    // Looked at more often than the server's patience lasts, less often than there is work.
    private readonly TimeSpan _look = options.AbandonedAfter / 4 < LookMax ? options.AbandonedAfter / 4 : LookMax;
    private NpgsqlConnection? _session;
    private bool _isMine;
    private DateTimeOffset _lookedAt = DateTimeOffset.MinValue;

    /// <summary>How long to wait before asking again when another instance has the turn.</summary>
    public TimeSpan Pause => _look;

    /// <summary>Whether this instance has the turn; asks the server at most once in <see cref="Pause"/>.</summary>
    public async Task<bool> IsMineAsync(CancellationToken cancellation)
    {
        if (clock.GetUtcNow() - _lookedAt < _look)
        {
            return _isMine;
        }

        try
        {
            var before = _isMine;
            _session ??= await _source.OpenConnectionAsync(cancellation);
            await using var command = new NpgsqlCommand(_isMine ? "select true" : $"select pg_try_advisory_lock({key.ToString(CultureInfo.InvariantCulture)})", _session);
            _isMine = (bool)(await command.ExecuteScalarAsync(cancellation))!;
            if (_isMine && !before)
            {
                LogTaken(logger);
            }
        }
        catch (Exception exception) when (exception is NpgsqlException or TimeoutException)
        {
            // The session is gone, and the turn with it.
            LogLost(logger, exception.Message);
            _isMine = false;
            await CloseAsync();
        }

        _lookedAt = clock.GetUtcNow();
        return _isMine;
    }

    /// <inheritdoc />
    public async ValueTask DisposeAsync()
    {
        await CloseAsync();
        await _source.DisposeAsync();
    }

    /// <inheritdoc />
    public void Dispose()
    {
        _session?.Dispose();
        _source.Dispose();
    }

    private async Task CloseAsync()
    {
        if (_session is { } session)
        {
            _session = null;
            await session.DisposeAsync();
        }
    }

    [LoggerMessage(1, LogLevel.Information, "This instance judges again from now on")]
    private static partial void LogTaken(ILogger logger);

    [LoggerMessage(2, LogLevel.Warning, "This instance does not know whether it has the turn for judging again, and takes it that it has not: {Reason}")]
    private static partial void LogLost(ILogger logger, string reason);
}
