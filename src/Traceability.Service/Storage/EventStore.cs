using JasperFx;
using JasperFx.Events;
using Marten;
using Npgsql;
using Weasel.Core;

namespace Traceability.Service.Storage;

/// <summary>The event store's settings: Marten owns the event tables and their form.</summary>
internal static class EventStore
{
    /// <summary>The schema of the event tables.</summary>
    public const string Schema = "events";

    /// <summary>Configures the store on a database.</summary>
    public static void Configure(StoreOptions options, NpgsqlDataSource database)
    {
        options.Connection(database);
        options.DatabaseSchemaName = Schema;

        // The migrator makes the tables; reading must never change them.
        options.AutoCreateSchemaObjects = AutoCreate.None;
        options.Events.DatabaseSchemaName = Schema;
        options.Events.StreamIdentity = StreamIdentity.AsString;
        options.Events.AppendMode = EventAppendMode.QuickWithServerTimestamps;
        // The store would else put its own naming over that of the options.
        options.UseSystemTextJsonForSerialization(EventJson.Options, EnumStorage.AsString, Casing.CamelCase);
        foreach (var (type, name) in EventNames.All)
        {
            options.Events.MapEventType(type, name);
        }
    }
}
