using System.Net;
using System.Net.Http.Json;
using System.Text;
using System.Text.Json;
using Traceability.Contracts;
using Traceability.Testing;
using Xunit;

namespace Traceability.Service.Tests.MasterData;

public sealed class PostMasterDataTests(ServiceFixture fixture) : IClassFixture<ServiceFixture>
{
    private HttpClient Engineer => fixture.Host.Engineer;

    [Fact]
    public async Task A_file_is_tried_recorded_once_and_refused_where_it_contradicts_what_is_recorded()
    {
        Assert.Equal(new MasterDataReceipt(true, 14, 0, 0), await PostAsync(MasterDataFileTests.Good, dryRun: true));
        Assert.Equal(HttpStatusCode.NotFound, (await Engineer.GetAsync("/api/items/LAMP")).StatusCode);

        Assert.Equal(new MasterDataReceipt(false, 14, 14, 0), await PostAsync(MasterDataFileTests.Good));
        Assert.Equal(HttpStatusCode.OK, (await Engineer.GetAsync("/api/items/LAMP")).StatusCode);
        Assert.Equal(new MasterDataReceipt(false, 14, 0, 14), await PostAsync(MasterDataFileTests.Good));

        var changed = MasterDataFileTests.Good
            .Replace("value: 50.0", "value: 60.0", StringComparison.Ordinal)
            .Replace("upper: { constant: 22.0 }", "upper: { constant: 23.0 }", StringComparison.Ordinal);
        var problem = await ProblemAsync(changed, HttpStatusCode.Conflict, dryRun: true);

        Assert.Equal("28:5 /lots/0 36:5 /routings/0", Places(problem));

        // Part of a file may refer to what was recorded before.
        const string More = "asOf: 2026-02-01T08:00:00Z\nstations:\n  - { station: BENCH-2, site: NORTH, description: Second }\n";
        Assert.Equal(new MasterDataReceipt(false, 1, 1, 0), await PostAsync(More));
    }

    [Fact]
    public async Task A_bad_file_is_refused_whole_with_every_line()
    {
        const string Bad = "asOf: 2026-02-01T08:00:00Z\nitems:\n  - { item: OTHER, kind: part, description: Other }\n  - { item: B AD, kind: parts, description: Bad }\n";

        var problem = await ProblemAsync(Bad, HttpStatusCode.BadRequest, dryRun: false);

        Assert.Equal("4:7 /items/1/item 4:19 /items/1/kind", Places(problem));
        Assert.Equal(HttpStatusCode.NotFound, (await Engineer.GetAsync("/api/items/OTHER")).StatusCode);
    }

    [Fact]
    public async Task A_station_may_not_define() =>
        Assert.Equal(HttpStatusCode.Forbidden, (await SendAsync(fixture.Host.Station, MasterDataFileTests.Good, dryRun: true)).StatusCode);

    private static string Places(JsonElement problem) => string.Join(' ', problem.GetProperty("errors").EnumerateArray().Select(e =>
        $"{e.GetProperty("line")}:{e.GetProperty("column")} {e.GetProperty("pointer")}"));

    private static async Task<HttpResponseMessage> SendAsync(HttpClient client, string file, bool dryRun)
    {
        using var body = new StringContent(file, Encoding.UTF8, "application/yaml");
        return await client.PostAsync($"/api/master-data{(dryRun ? "?dryRun=true" : string.Empty)}", body);
    }

    private async Task<MasterDataReceipt?> PostAsync(string file, bool dryRun = false)
    {
        using var answer = await SendAsync(Engineer, file, dryRun);
        Assert.True(answer.IsSuccessStatusCode, await answer.Content.ReadAsStringAsync());
        return await answer.Content.ReadFromJsonAsync<MasterDataReceipt>(WireJson.Options);
    }

    private async Task<JsonElement> ProblemAsync(string file, HttpStatusCode status, bool dryRun)
    {
        using var answer = await SendAsync(Engineer, file, dryRun);
        Assert.Equal(status, answer.StatusCode);
        Assert.Equal("application/problem+json", answer.Content.Headers.ContentType?.MediaType);
        var problem = await answer.Content.ReadFromJsonAsync<JsonElement>();
        Assert.Equal("master-data-malformed", problem.GetProperty("code").GetString());
        return problem;
    }
}
