using Microsoft.Extensions.Options;
using Npgsql;

namespace Traceability.Service.Storage.Answers;

/// <summary>The servers that answers may be read from instead of the primary; none unless a connection string names them.</summary>
internal sealed class ReadReplicas : IAsyncDisposable, IDisposable
{
    private readonly NpgsqlDataSource? _source;

    public ReadReplicas(IConfiguration configuration, IOptions<StorageOptions> options)
    {
        if (configuration.GetConnectionString(StorageOptions.ReadConnectionStringName) is { Length: > 0 } named)
        {
            _source = Database.OpenForReading(named, options.Value);
        }

        LagMax = options.Value.ReplicaLagMax;
    }

    /// <summary>Whether there are any.</summary>
    public bool AreThere => _source is not null;

    /// <summary>How far one may be behind and still answer.</summary>
    public TimeSpan LagMax { get; }

    /// <summary>A connection, to a standby if one answers.</summary>
    public ValueTask<NpgsqlConnection> OpenAsync(CancellationToken cancellation) =>
        _source?.OpenConnectionAsync(cancellation) ?? throw new InvalidOperationException("No replicas are configured.");

    /// <inheritdoc />
    public ValueTask DisposeAsync() => _source?.DisposeAsync() ?? ValueTask.CompletedTask;

    /// <inheritdoc />
    public void Dispose() => _source?.Dispose();
}
