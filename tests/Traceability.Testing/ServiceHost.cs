using System.Net.Http.Headers;
using System.Net.Http.Json;
using System.Text.Json;
using Microsoft.AspNetCore.Builder;
using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Traceability.Service;

namespace Traceability.Testing;

/// <summary>The whole service on a loopback port, with a database of its own and a key for each role.</summary>
/// <remarks>
/// Use it as a class fixture, or start one in a test. Members may be used from any thread.
/// The database may lose what it acknowledged: it runs without durability.
/// </remarks>
public class ServiceHost : IAsyncDisposable
{
    private readonly TestDatabase database;
    private readonly string folder;
    private readonly Dictionary<string, HttpClient> clients = new(StringComparer.Ordinal);
    private TraceabilityService service;
    private bool ownsDatabase = true;

    private ServiceHost(TestDatabase database, string folder, TraceabilityService service)
    {
        this.database = database;
        this.folder = folder;
        this.service = service;
    }

    /// <summary>Gets the station that the station key is bound to, unless another was asked for.</summary>
    public static string DefaultStation => "ST-1";

    /// <summary>Gets the service's address, such as http://127.0.0.1:40123.</summary>
    public Uri Address { get; private set; } = null!;

    /// <summary>Gets the connection string of the service's database.</summary>
    public string ConnectionString => database.ConnectionString;

    /// <summary>Gets the data folder, with the file administrator-key.</summary>
    public string DataFolder => folder;

    /// <summary>Gets the running application, to look at its endpoints and services.</summary>
    public WebApplication App => service.App;

    /// <summary>Gets the text of the administrator key that the first start made.</summary>
    public string AdministratorKey => File.ReadAllText(Path.Combine(folder, "administrator-key")).Trim();

    /// <summary>Gets a client without a key.</summary>
    public HttpClient Anonymous => clients[string.Empty];

    /// <summary>Gets a client with a station's key, bound to <see cref="DefaultStation"/>.</summary>
    public HttpClient Station => clients["station"];

    /// <summary>Gets a client with the key of somebody from quality.</summary>
    public HttpClient Quality => clients["quality"];

    /// <summary>Gets a client with a process engineer's key.</summary>
    public HttpClient Engineer => clients["engineer"];

    /// <summary>Gets a client with an administrator's key.</summary>
    public HttpClient Admin => clients["admin"];

    /// <summary>Gets the service's data source, to look into its tables.</summary>
    public NpgsqlDataSource Database => App.Services.GetRequiredService<NpgsqlDataSource>();

    /// <summary>Gets the client of a role: station, quality, engineer, admin; "" has no key.</summary>
    public HttpClient Client(string role) => clients[role];

    /// <summary>Starts the service on a new database.</summary>
    /// <param name="settings">Further arguments, such as "--Ingest:GroupMax=1".</param>
    public static async Task<ServiceHost> StartAsync(params string[] settings) =>
        await StartOnAsync(await PostgresServer.CreateDatabaseAsync(), settings);

    /// <summary>Starts the service on this database, which it takes over.</summary>
    public static async Task<ServiceHost> StartOnAsync(TestDatabase empty, params string[] settings)
    {
        ArgumentNullException.ThrowIfNull(empty);
        var data = Directory.CreateTempSubdirectory("traceability-service-").FullName;
        try
        {
            var host = new ServiceHost(empty, data, await CreateAsync(empty, data, settings));
            await host.RunAsync();
            return host;
        }
        catch
        {
            Directory.Delete(data, recursive: true);
            await empty.DisposeAsync();
            throw;
        }
    }

    /// <summary>Starts a further instance of the service on the database of another one; its keys are the first one's.</summary>
    public static async Task<ServiceHost> StartBesideAsync(ServiceHost first, params string[] settings)
    {
        ArgumentNullException.ThrowIfNull(first);
        var host = new ServiceHost(first.database, first.folder, await CreateAsync(first.database, first.folder, settings)) { ownsDatabase = false };
        await host.service.App.StartAsync();
        host.Address = new(host.service.App.Urls.Single());
        foreach (var (role, client) in first.clients)
        {
            var own = new HttpClient { BaseAddress = host.Address };
            own.DefaultRequestHeaders.Authorization = client.DefaultRequestHeaders.Authorization;
            host.clients[role] = own;
        }

        return host;
    }

    /// <summary>Stops the service and starts it again on the same database and data folder, with the same keys.</summary>
    public async Task RestartAsync(params string[] settings)
    {
        await service.App.StopAsync();
        await service.DisposeAsync();
        service = await CreateAsync(database, folder, settings);
        await service.App.StartAsync();
        Address = new(service.App.Urls.Single());
        foreach (var (role, client) in clients.ToArray())
        {
            var next = new HttpClient { BaseAddress = Address };
            next.DefaultRequestHeaders.Authorization = client.DefaultRequestHeaders.Authorization;
            client.Dispose();
            clients[role] = next;
        }
    }

    /// <summary>Gives a further key and a client that uses it.</summary>
    public async Task<HttpClient> KeyAsync(string name, string role, string? station = null)
    {
        using var answer = await Admin.PostAsJsonAsync("/api/keys", new { name, role, station });
        answer.EnsureSuccessStatusCode();
        using var body = await JsonDocument.ParseAsync(await answer.Content.ReadAsStreamAsync());
        return ClientWith(body.RootElement.GetProperty("key").GetString()!);
    }

    /// <summary>Makes a client with this key; the caller disposes of it.</summary>
    public HttpClient ClientWith(string key)
    {
        var client = new HttpClient { BaseAddress = Address };
        client.DefaultRequestHeaders.Authorization = new AuthenticationHeaderValue("Bearer", key);
        return client;
    }

    /// <inheritdoc />
    public async ValueTask DisposeAsync()
    {
        GC.SuppressFinalize(this);
        foreach (var client in clients.Values)
        {
            client.Dispose();
        }

        await service.App.StopAsync();
        await service.DisposeAsync();
        if (ownsDatabase)
        {
            await database.DisposeAsync();
            Directory.Delete(folder, recursive: true);
        }
    }

    private static Task<TraceabilityService> CreateAsync(TestDatabase database, string folder, string[] settings) => TraceabilityService.CreateAsync(
    [
        "--urls", "http://127.0.0.1:0",
        $"--ConnectionStrings:Traceability={database.ConnectionString}",
        "--Postgres:AllowUnsafeDurability=true",
        $"--Postgres:DataFolder={folder}",
        "--Logging:LogLevel:Default=Warning",
        .. settings,
    ]);

    private async Task RunAsync()
    {
        await service.App.StartAsync();
        Address = new(service.App.Urls.Single());
        clients[string.Empty] = new() { BaseAddress = Address };
        clients["admin"] = ClientWith(AdministratorKey);
        clients["station"] = await KeyAsync("test-station", "station", DefaultStation);
        clients["quality"] = await KeyAsync("test-quality", "quality");
        clients["engineer"] = await KeyAsync("test-engineer", "engineer");
    }
}

/// <summary>One service for all tests of a class: <c>IClassFixture&lt;ServiceFixture&gt;</c>.</summary>
public sealed class ServiceFixture : Xunit.IAsyncLifetime
{
    /// <summary>Gets the running service.</summary>
    public ServiceHost Host { get; private set; } = null!;

    /// <inheritdoc />
    public async Task InitializeAsync() => Host = await ServiceHost.StartAsync();

    /// <inheritdoc />
    public async Task DisposeAsync() => await Host.DisposeAsync();
}
