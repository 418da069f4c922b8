using System.Globalization;
using System.Net.Http.Json;
using System.Text.Json;
using Traceability.Contracts;
using Traceability.Simulator.Plant;
using Traceability.Simulator.Posting;
using Traceability.Simulator.Truth;
using Traceability.Testing;

namespace Traceability.Acceptance.Demo;

/// <summary>A service that the whole demo was posted to, over HTTP, by its terminals; with what an independent computation says of it.</summary>
internal sealed class DemoHost : IAsyncDisposable
{
    private DemoHost(ServiceHost service, PlantRun plant, PlantAnswers answers, PostReport report)
    {
        Service = service;
        Plant = plant;
        Answers = answers;
        Report = report;
    }

    public ServiceHost Service { get; }

    public PlantRun Plant { get; }

    /// <summary>What the simulator's own recomputation says, from the same facts, without the service's code.</summary>
    public PlantAnswers Answers { get; }

    public PostReport Report { get; }

    /// <summary>Starts a service and posts a plant to it.</summary>
    public static async Task<DemoHost> StartAsync(PlantRun plant, PostOptions options)
    {
        var service = await ServiceHost.StartAsync();
        try
        {
            var keys = new Dictionary<string, string>(StringComparer.Ordinal);
            foreach (var sender in plant.Facts.Select(f => f.Sender).Distinct(StringComparer.Ordinal))
            {
                keys[sender] = await KeyAsync(service, sender);
            }

            using var http = new HttpClient { BaseAddress = service.Address, Timeout = TimeSpan.FromMinutes(2) };
            var client = new ServiceClient(http, TimeProvider.System);
            await new Deeds(client, service.AdministratorKey).StoreFilesAsync(plant);
            var report = await new HistoryPoster(client, s => keys[s]).PostAsync(plant.Facts, options);
            var host = new DemoHost(service, plant, Recomputation.Of(plant.Facts, plant.Now), report);
            await host.SettleAsync();
            return host;
        }
        catch
        {
            await service.DisposeAsync();
            throw;
        }
    }

    /// <summary>The answer to a question, as an administrator.</summary>
    public async Task<T> AskAsync<T>(string path)
    {
        using var response = await Service.Admin.GetAsync(new Uri(path, UriKind.Relative));
        var text = await response.Content.ReadAsStringAsync();
        Assert.True(response.IsSuccessStatusCode, $"{path}: {(int)response.StatusCode} {text}");
        return JsonSerializer.Deserialize<T>(text, WireJson.Options)!;
    }

    /// <summary>The answer to a question that is posted, as an administrator.</summary>
    public async Task<T> AskAsync<T>(string path, object question)
    {
        using var response = await Service.Admin.PostAsJsonAsync(new Uri(path, UriKind.Relative), question);
        var text = await response.Content.ReadAsStringAsync();
        Assert.True(response.IsSuccessStatusCode, $"{path}: {(int)response.StatusCode} {text}");
        return JsonSerializer.Deserialize<T>(text, WireJson.Options)!;
    }

    /// <summary>Has the pumps that wait for it released by signature.</summary>
    public async Task<IReadOnlyList<(string Unit, FactAnswer Answer)>> SignAsync()
    {
        using var http = new HttpClient { BaseAddress = Service.Address, Timeout = TimeSpan.FromMinutes(2) };
        return await new Deeds(new ServiceClient(http, TimeProvider.System), Service.AdministratorKey).SignAsync(Plant);
    }

    /// <summary>Lets pumps leave together.</summary>
    public async Task<FactAnswer?> ShipAsync(IReadOnlyList<string> units)
    {
        using var http = new HttpClient { BaseAddress = Service.Address, Timeout = TimeSpan.FromMinutes(2) };
        return await new Deeds(new ServiceClient(http, TimeProvider.System), Service.AdministratorKey).ShipAsync(Plant, units);
    }

    /// <summary>Waits until every unit has been judged again that asked for it.</summary>
    public async Task SettleAsync()
    {
        for (var tries = 0; await CountAsync("select count(*) from traceability.rejudge") > 0; tries++)
        {
            Assert.True(tries < 600, "Units were still to be judged again after a minute.");
            await Task.Delay(TimeSpan.FromMilliseconds(100));
        }
    }

    /// <summary>Everything that was derived from the facts, one line a row, in an order of its own; without ids and times of storing.</summary>
    public async Task<IReadOnlyList<string>> DerivedRowsAsync()
    {
        string[] tables =
        [
            "step_result - 'row_id'", "unit_result - 'row_id'", "finding - 'row_id'", "open_interval - 'row_id'", "material_usage - 'row_id'",
            "trace_gap - 'row_id'", "installation - 'row_id'", "cure_window - 'row_id'", "tool_usage - 'row_id'", "nonconformance - 'row_id'",
            "measurement - 'row_id'", "interval_result - 'row_id'", "work_gap - 'row_id'", "shipment - 'row_id'", "unit - 'judgement' - 'version'",
        ];
        var rows = new List<string>();
        foreach (var table in tables)
        {
            var parts = table.Split(" - ", 2);
            await using var command = Service.Database.CreateCommand($"select '{parts[0]} ' || (to_jsonb(t) - {parts[1]})::text from traceability.{parts[0]} t");
            await using var reader = await command.ExecuteReaderAsync();
            while (await reader.ReadAsync())
            {
                rows.Add(reader.GetString(0));
            }
        }

        rows.Sort(StringComparer.Ordinal);
        return rows;
    }

    /// <inheritdoc />
    public ValueTask DisposeAsync() => Service.DisposeAsync();

    private static async Task<string> KeyAsync(ServiceHost service, string sender)
    {
        var role = sender is Senders.Engineer or Senders.Quality ? sender : "station";
        using var answer = await service.Admin.PostAsJsonAsync("/api/keys", new { name = $"demo-{sender}", role, station = role == "station" ? sender : null });
        answer.EnsureSuccessStatusCode();
        using var body = await JsonDocument.ParseAsync(await answer.Content.ReadAsStreamAsync());
        return body.RootElement.GetProperty("key").GetString()!;
    }

    private async Task<long> CountAsync(string sql)
    {
        await using var command = Service.Database.CreateCommand(sql);
        return Convert.ToInt64(await command.ExecuteScalarAsync(), CultureInfo.InvariantCulture);
    }
}
