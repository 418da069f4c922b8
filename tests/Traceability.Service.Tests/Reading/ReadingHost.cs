using System.Net;
using System.Text;
using System.Text.Json;
using Marten;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.TestHost;
using Microsoft.Extensions.Configuration;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Logging;
using Npgsql;
using Traceability.Contracts;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;
using Traceability.Service.Features.Findings;
using Traceability.Service.Features.Intervals;
using Traceability.Service.Features.SharedFactors;
using Traceability.Service.Features.Yield;
using Traceability.Service.Http;
using Traceability.Service.Ingest;
using Traceability.Service.Storage;
using Traceability.Testing;
using Traceability.Testing.Building;
using Xunit;

namespace Traceability.Service.Tests.Reading;

/// <summary>
/// The reading features over HTTP on a database of their own. Judgements are stored by the statements that ingest uses.
/// The folder in the background looks once, at the start, and then sleeps for the whole test: tests fold when they mean to.
/// </summary>
internal sealed class ReadingHost : IAsyncDisposable
{
    private readonly TestDatabase _database;
    private readonly WebApplication _app;
    private readonly HttpClient _client;
    private readonly Dictionary<UnitKey, UnitState> _units = [];
    private int _facts;

    private ReadingHost(TestDatabase database, WebApplication app, FixedClock clock)
    {
        _database = database;
        _app = app;
        _client = app.GetTestClient();
        Clock = clock;
        Database = app.Services.GetRequiredService<NpgsqlDataSource>();
    }

    public NpgsqlDataSource Database { get; }

    public FixedClock Clock { get; }

    public static async Task<ReadingHost> StartAsync(DateTimeOffset? now = null)
    {
        var database = await PostgresServer.CreateDatabaseAsync();
        var clock = new FixedClock(now ?? Some.Noon);
        var builder = WebApplication.CreateBuilder();
        builder.WebHost.UseTestServer();
        builder.Logging.ClearProviders();
        builder.Configuration.AddInMemoryCollection(new Dictionary<string, string?>(StringComparer.Ordinal) { ["Yield:FoldPause"] = "00:01:00" });
        builder.AddHttp();
        var services = builder.Services;
        services.AddAuthorization(o => o.AddPolicy(Traceability.Service.Security.Policies.Read, p => p.RequireAssertion(_ => true)));
        services.AddSingleton<TimeProvider>(clock);
        services.AddSingleton(_ => Storage.Database.Open(database.ConnectionString, new()));
        services.AddSingleton<IDocumentStore>(s => DocumentStore.For(o => EventStore.Configure(o, s.GetRequiredService<NpgsqlDataSource>())));
        services.AddSingleton<Migrator>();
        services.AddSingleton(new StorageLimits());
        services.AddSingleton<ReferenceCache>();
        services.AddYield().AddIntervals().AddFindings().AddSharedFactors();
        var app = builder.Build();
        app.UseHttp();
        app.UseAuthorization();
        var api = app.MapGroup("/api").MapYield().MapIntervals().MapFindings();
        api.MapSharedFactors();
        await app.Services.GetRequiredService<Migrator>().ApplyAsync(CancellationToken.None);
        await app.StartAsync();
        return new(database, app, clock);
    }

    /// <summary>Stores definitions as ingest does.</summary>
    public async Task DefineAsync(params Fact[] facts)
    {
        await using var connection = await Database.OpenConnectionAsync();
        await using var transaction = await connection.BeginTransactionAsync();
        foreach (var stream in facts.GroupBy(f => StreamNames.Of(f)!, StringComparer.Ordinal))
        {
            await using var batch = new NpgsqlBatch(connection, transaction);
            var version = 0;
            Append[] appends = [.. stream.Select(f => new Append(stream.Key, ++version, new(Some.Id(++_facts), [], f), f, null, Some.Noon))];
            var streams = EventAppender.StreamsOf(appends);
            GroupStatement.AddTo(batch, appends, streams, []);
            EventAppender.AddOpened(batch, streams);
            batch.BatchCommands.Add(new("update traceability.reference_clock set seq = seq + 1"));
            batch.BatchCommands.Add(new("insert into traceability.reference_stream (stream, kind, seq) select $1, split_part($1, '/', 1), seq from traceability.reference_clock")
            {
                Parameters = { new() { Value = stream.Key } },
            });
            await batch.ExecuteNonQueryAsync();
        }

        await transaction.CommitAsync();
    }

    /// <summary>Stores judgements in one transaction, each in the place of the unit's last one.</summary>
    public async Task StoreAsync(params UnitJudgement[] judgements)
    {
        await using var connection = await Database.OpenConnectionAsync();
        await using var transaction = await connection.BeginTransactionAsync();
        foreach (var stored in await WriteAsync(connection, judgements, u => _units.GetValueOrDefault(u)))
        {
            _units[stored.Unit.Key] = stored;
        }

        await transaction.CommitAsync();
    }

    /// <summary>Writes judgements with the statements of ingest, in the connection's transaction; gives the units as they are stored then.</summary>
    public static async Task<UnitState[]> WriteAsync(NpgsqlConnection connection, UnitJudgement[] judgements, Func<UnitKey, UnitState?> stored)
    {
        UnitDraft[] drafts = [.. judgements.Select(j =>
        {
            var draft = new UnitDraft(stored(j.Unit) ?? new(ProductUnit.Of(j.Unit, []), 0, [.. Enumerable.Repeat(Array.Empty<long>(), UnitRows.TableCount)], []));
            draft.Take(j);
            return draft;
        })];
        await using var batch = new NpgsqlBatch(connection);
        UnitRowWriter.Add(batch, drafts);
        await batch.ExecuteNonQueryAsync();
        return [.. drafts.Select(d => d.AsStored(knownIn: 0))];
    }

    /// <summary>Folds all that is queued.</summary>
    public async Task FoldAsync()
    {
        while (await YieldFolding.FoldPageAsync(Database, 1_000, CancellationToken.None) > 0)
        {
            // The next page.
        }
    }

    /// <summary>Asks, and expects an answer.</summary>
    public async Task<T> GetAsync<T>(string path)
    {
        using var response = await _client.GetAsync(path);
        var body = await response.Content.ReadAsStringAsync();
        Assert.True(response.StatusCode == HttpStatusCode.OK, body);
        return JsonSerializer.Deserialize<T>(body, WireJson.Options)!;
    }

    /// <summary>Asks by a question that is posted; gives the answer, or the problem.</summary>
    public async Task<(T? Answer, Problem? Problem)> PostAsync<T>(string path, string question)
    {
        using var content = new StringContent(question, Encoding.UTF8, "application/json");
        using var response = await _client.PostAsync(path, content);
        var body = await response.Content.ReadAsStringAsync();
        return response.StatusCode == HttpStatusCode.OK
            ? (JsonSerializer.Deserialize<T>(body, WireJson.Options), null)
            : (default, JsonSerializer.Deserialize<Problem>(body, WireJson.Options));
    }

    /// <summary>Asks, and gives the answer as it is written.</summary>
    public Task<string> GetTextAsync(string path) => _client.GetStringAsync(path);

    /// <summary>Asks, and expects a problem.</summary>
    public async Task<Problem> GetProblemAsync(string path)
    {
        using var response = await _client.GetAsync(path);
        var body = await response.Content.ReadAsStringAsync();
        Assert.Equal("application/problem+json", response.Content.Headers.ContentType?.MediaType);
        var problem = JsonSerializer.Deserialize<Problem>(body, WireJson.Options)!;
        Assert.Equal((int)response.StatusCode, problem.Status);
        return problem;
    }

    /// <summary>Runs one statement and gives the first value.</summary>
    public async Task<T> AskAsync<T>(string sql)
    {
        await using var command = Database.CreateCommand(sql);
        return (T)(await command.ExecuteScalarAsync())!;
    }

    public async ValueTask DisposeAsync()
    {
        _client.Dispose();
        await _app.StopAsync();
        await _app.DisposeAsync();
        await _database.DisposeAsync();
    }
}
