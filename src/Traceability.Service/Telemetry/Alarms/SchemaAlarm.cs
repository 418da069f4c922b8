using Npgsql;
using Traceability.Service.Storage.Schema;

namespace Traceability.Service.Telemetry.Alarms;

/// <summary>The database's form was changed under the running service.</summary>
/// <remarks>A compatible newer form is told; one that this version can't work with closes the way in.</remarks>
internal sealed class SchemaAlarm(WriteGate gate) : IAlarmSource
{
    /// <inheritdoc />
    public async ValueTask<IReadOnlyList<Trouble>> LookAsync(NpgsqlConnection connection, DateTimeOffset now, CancellationToken cancellation)
    {
        var state = await SchemaState.ReadAsync(connection, Migration.All, cancellation);
        gate.Set("schema", state.Trouble);
        return state.Trouble is { } trouble
            ? [new("schema-unusable", null, 1, trouble, "Nothing is recorded by this instance until then.")]
            : state.Newer.IsEmpty
                ? []
                : [new("schema-newer", null, state.Newer.Length, $"A newer version has added {string.Join(", ", state.Newer)} to the database, with which this version can work.", "Finish the upgrade: replace this instance by the newer version.")];
    }
}
