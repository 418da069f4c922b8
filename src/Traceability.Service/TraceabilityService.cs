using Marten;
using Microsoft.Extensions.Configuration.Memory;
using Microsoft.Extensions.Options;
using Npgsql;
using Traceability.Postgres;
using Traceability.Service.Ingest;
using Traceability.Service.Storage;
using Traceability.Service.Storage.Schema;
using Traceability.Service.Storage.Workers;
using Traceability.Service.Telemetry;

namespace Traceability.Service;

/// <summary>The whole service: its web application and, without a connection string, the private database that it owns.</summary>
public sealed partial class TraceabilityService : IAsyncDisposable
{
    private readonly EmbeddedPostgres? _postgres;

    private TraceabilityService(WebApplication app, EmbeddedPostgres? postgres)
    {
        App = app;
        _postgres = postgres;
    }

    /// <summary>The web application; not started yet.</summary>
    public WebApplication App { get; }

    /// <summary>Makes the service, with its database started and, unless a setting says otherwise, brought to this version's form.</summary>
    /// <exception cref="SchemaException">The database has a form that this version must not touch.</exception>
    public static async Task<TraceabilityService> CreateAsync(string[] args, CancellationToken cancellation = default)
    {
        var service = await OpenAsync(args, cancellation);
        try
        {
            var services = service.App.Services;
            var storage = services.GetRequiredService<IOptions<StorageOptions>>().Value;
            var migrator = services.GetRequiredService<Migrator>();
            if (storage.MigrateAtStart)
            {
                await migrator.ApplyAsync(cancellation);
            }

            var state = await migrator.StateAsync(cancellation);
            Migrator.Refuse(state);
            if (state.IsUsable)
            {
                await FeatureList.StartAsync(service.App, storage.DataFolder, cancellation);
            }
            else
            {
                // Readiness says the same; the tables that the rest of the start needs are not there.
                services.GetRequiredService<WriteGate>().Set("schema", state.Trouble);
                LogBehind(services.GetRequiredService<ILogger<TraceabilityService>>(), state.Trouble!);
            }

            return service;
        }
        catch
        {
            await service.DisposeAsync();
            throw;
        }
    }

    /// <summary>The service with its database started and not looked at.</summary>
    internal static async Task<TraceabilityService> OpenAsync(string[] args, CancellationToken cancellation)
    {
        var builder = Builder(args);
        var storage = builder.Configuration.GetSection(StorageOptions.SectionName).Get<StorageOptions>() ?? new();
        var connectionString = builder.Configuration.GetConnectionString(StorageOptions.ConnectionStringName);
        EmbeddedPostgres? postgres = null;
        if (string.IsNullOrWhiteSpace(connectionString))
        {
            postgres = await EmbeddedPostgres.StartAsync(new() { DataFolder = Path.GetFullPath(storage.DataFolder) }, cancellation);
            connectionString = postgres.ConnectionString;
        }

        try
        {
            return new(Build(builder, connectionString, storage), postgres);
        }
        catch
        {
            if (postgres is not null)
            {
                await postgres.DisposeAsync();
            }

            throw;
        }
    }

    /// <summary>The application without a database: enough to describe itself.</summary>
    public static WebApplication Describe(string[] args) =>
        Build(Builder(args), "Host=localhost;Database=none", new());

    /// <inheritdoc />
    public async ValueTask DisposeAsync()
    {
        await App.DisposeAsync();
        if (_postgres is not null)
        {
            await _postgres.DisposeAsync();
        }
    }

    private static WebApplicationBuilder Builder(string[] args)
    {
        var builder = WebApplication.CreateBuilder(args);

        // Else several lines are written for each request, which costs more than the request; every other source goes before.
        builder.Configuration.Sources.Insert(0, new MemoryConfigurationSource
        {
            InitialData = [new("Logging:LogLevel:Default", "Information"), new("Logging:LogLevel:Microsoft.AspNetCore", "Warning"), new("Logging:LogLevel:Traceability.Service.Security.KeyAuthentication", "Warning")],
        });
        return builder;
    }

    private static WebApplication Build(WebApplicationBuilder builder, string connectionString, StorageOptions storage)
    {
        var services = builder.Services;
        services.AddSingleton(TimeProvider.System);
        services.AddOptions<StorageOptions>().BindConfiguration(StorageOptions.SectionName).ValidateDataAnnotations().ValidateOnStart();
        services.AddOptions<IngestOptions>().BindConfiguration(IngestOptions.SectionName).ValidateDataAnnotations().ValidateOnStart();
        services.AddSingleton(_ => Database.Open(connectionString, storage));
        services.AddSingleton(_ => new CommitDatabase(connectionString, storage));
        services.AddSingleton<IDocumentStore>(s => DocumentStore.For(o => EventStore.Configure(o, s.GetRequiredService<NpgsqlDataSource>())));
        services.AddSingleton<Migrator>();
        services.AddWorkers();
        services.AddSingleton(new StorageLimits());
        services.AddSingleton<StoreTrouble>();
        services.AddSingleton<ReferenceCache>();
        services.AddSingleton<UnitReader>();
        services.AddSingleton<GroupCommitter>();
        services.AddSingleton<IIngest>(s => s.GetRequiredService<GroupCommitter>());
        services.AddHostedService(s => s.GetRequiredService<GroupCommitter>());
        services.AddHostedService<RejudgeWorker>();
        services.AddHostedService<AbandonedCommits>();
        FeatureList.Add(builder);
        var app = builder.Build();
        FeatureList.Map(app);
        return app;
    }

    [LoggerMessage(1, LogLevel.Error, "Not ready: {Trouble}")]
    private static partial void LogBehind(ILogger logger, string trouble);
}
