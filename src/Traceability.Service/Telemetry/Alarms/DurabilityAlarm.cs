using Microsoft.Extensions.Options;
using Npgsql;
using Traceability.Service.Storage;

namespace Traceability.Service.Telemetry.Alarms;

/// <summary>The database's settings no longer keep what is acknowledged; looked at all the time, since they change without a restart.</summary>
internal sealed class DurabilityAlarm(IConfiguration configuration, IOptions<StorageOptions> options, WriteGate gate) : IAlarmSource
{
    /// <inheritdoc />
    public async ValueTask<IReadOnlyList<Trouble>> LookAsync(NpgsqlConnection connection, DateTimeOffset now, CancellationToken cancellation)
    {
        var isPrivate = string.IsNullOrWhiteSpace(configuration.GetConnectionString(StorageOptions.ConnectionStringName));
        var settings = await DurabilitySettings.ReadAsync(connection, cancellation);
        var failed = settings.Judge(isPrivate, options.Value.AllowUnsafeDurability).Where(c => c.Status == HealthStatus.Fail).ToArray();
        gate.Set("durability", failed.Length == 0 ? null : "The database may lose what it acknowledges, so nothing is recorded until its settings are put right.");
        return failed.Length == 0
            ? []
            : [new("durability-off", null, failed.Length, string.Join(' ', failed.Select(f => $"{f.Name}: {f.Detail}")), "Turn the settings on and reload the database's configuration. Until then nothing is recorded: senders keep what they have.")];
    }
}
