using System.Net;
using System.Net.Http.Json;
using System.Text;
using System.Text.Json;
using Traceability.Testing;
using Xunit;

namespace Traceability.Service.Tests.Security;

public sealed class KeyLifeTests(ServiceFixture fixture) : IClassFixture<ServiceFixture>
{
    private ServiceHost Host => fixture.Host;

    [Fact]
    public async Task A_key_is_shown_once_and_only_its_hash_is_stored()
    {
        var made = await CreateAsync(new { name = "shown-once", role = "quality" });
        var key = made.GetProperty("key").GetString()!;
        using var client = Host.ClientWith(key);
        using var listed = await Host.Admin.GetAsync("/api/keys");

        Assert.Equal(HttpStatusCode.Forbidden, (await client.GetAsync("/api/keys")).StatusCode);
        var list = await listed.Content.ReadAsStringAsync();
        Assert.Contains("shown-once", list, StringComparison.Ordinal);
        Assert.DoesNotContain("trc_", list, StringComparison.Ordinal);
        await using var command = Host.Database.CreateCommand("select convert_to(k::text, 'UTF8') || hash from traceability.access_key k where name = 'shown-once'");
        var row = (byte[])(await command.ExecuteScalarAsync())!;
        Assert.Equal(-1, row.AsSpan().IndexOf(Encoding.UTF8.GetBytes(key[4..])));
        await using var hash = Host.Database.CreateCommand("select hash = sha256(convert_to($1, 'UTF8')) from traceability.access_key where name = 'shown-once'");
        hash.Parameters.Add(new() { Value = key });
        Assert.Equal(true, await hash.ExecuteScalarAsync());
    }

    [Fact]
    public async Task A_revoked_key_no_longer_works_and_revoking_it_again_changes_nothing()
    {
        var made = await CreateAsync(new { name = "revoked", role = "admin" });
        using var client = Host.ClientWith(made.GetProperty("key").GetString()!);
        Assert.Equal(HttpStatusCode.OK, (await client.GetAsync("/api/keys")).StatusCode);
        var address = $"/api/keys/{made.GetProperty("id").GetString()}";

        Assert.Equal(HttpStatusCode.NoContent, (await Host.Admin.DeleteAsync(address)).StatusCode);

        // At once here, though the key was remembered.
        await AssertProblemAsync(await client.GetAsync("/api/keys"), HttpStatusCode.Unauthorized, "key-unknown");
        var first = await RevokedAtAsync("revoked");
        Assert.Equal(HttpStatusCode.NoContent, (await Host.Admin.DeleteAsync(address)).StatusCode);
        Assert.Equal(first, await RevokedAtAsync("revoked"));
    }

    [Fact]
    public async Task A_key_that_another_instance_revoked_ends_within_the_stated_time()
    {
        await using var host = await ServiceHost.StartAsync("--Access:KeyCacheDuration=00:00:00.5");
        Assert.Equal(HttpStatusCode.Forbidden, (await host.Quality.GetAsync("/api/keys")).StatusCode);
        await using var revoke = host.Database.CreateCommand("update traceability.access_key set revoked_at = now() where name = 'test-quality'");
        await revoke.ExecuteNonQueryAsync();

        await Task.Delay(TimeSpan.FromSeconds(0.6));

        await AssertProblemAsync(await host.Quality.GetAsync("/api/keys"), HttpStatusCode.Unauthorized, "key-unknown");
    }

    [Fact]
    public async Task A_request_without_a_key_is_told_how_to_send_one()
    {
        using var answer = await Host.Anonymous.GetAsync("/api/keys");

        Assert.Equal("Bearer realm=\"traceability\"", answer.Headers.WwwAuthenticate.ToString());
        await AssertProblemAsync(answer, HttpStatusCode.Unauthorized, "key-missing");
    }

    [Theory]
    [InlineData("trc_AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8")]
    [InlineData("trc_short")]
    [InlineData("anything")]
    [InlineData("' or 1=1 --")]
    public async Task A_wrong_key_is_unknown(string key)
    {
        using var request = new HttpRequestMessage(HttpMethod.Get, "/api/keys");
        request.Headers.TryAddWithoutValidation("Authorization", $"Bearer {key}");
        using var answer = await Host.Anonymous.SendAsync(request);

        Assert.Contains("error=\"invalid_token\"", answer.Headers.WwwAuthenticate.ToString(), StringComparison.Ordinal);
        await AssertProblemAsync(answer, HttpStatusCode.Unauthorized, "key-unknown");
    }

    [Fact]
    public async Task The_last_administrator_key_cannot_be_revoked()
    {
        await using var host = await ServiceHost.StartAsync();
        using var list = JsonDocument.Parse(await host.Admin.GetStringAsync("/api/keys"));
        var admin = list.RootElement.GetProperty("keys").EnumerateArray().Single(k => k.GetProperty("role").GetString() == "admin");

        using var answer = await host.Admin.DeleteAsync($"/api/keys/{admin.GetProperty("id").GetString()}");

        await AssertProblemAsync(answer, HttpStatusCode.Conflict, "key-last-administrator", "id");
        Assert.Equal(HttpStatusCode.OK, (await host.Admin.GetAsync("/api/keys")).StatusCode);
    }

    [Fact]
    public async Task A_name_is_used_once_even_after_its_key_was_revoked()
    {
        var made = await CreateAsync(new { name = "only-once", role = "engineer" });
        await Host.Admin.DeleteAsync($"/api/keys/{made.GetProperty("id").GetString()}");

        using var answer = await Host.Admin.PostAsJsonAsync("/api/keys", new { name = "only-once", role = "engineer" });

        await AssertProblemAsync(answer, HttpStatusCode.Conflict, "key-name-taken", "/name");
    }

    [Fact]
    public async Task Every_fault_of_a_key_that_is_asked_for_is_named_at_once()
    {
        using var answer = await Host.Admin.PostAsJsonAsync("/api/keys", new { name = " ", role = "king", station = "ST-1" });

        await AssertProblemAsync(answer, HttpStatusCode.BadRequest, "key-malformed", "/name", "/role", "/station");
    }

    [Theory]
    [InlineData("station", null)]
    [InlineData("station", "not a code")]
    [InlineData("quality", "ST-1")]
    public async Task A_station_goes_with_a_stations_key_and_only_with_it(string role, string? station)
    {
        using var answer = await Host.Admin.PostAsJsonAsync("/api/keys", new { name = "station-form", role, station });

        await AssertProblemAsync(answer, HttpStatusCode.BadRequest, "key-malformed", "/station");
    }

    [Fact]
    public async Task Revoking_a_key_that_is_not_there_says_so() => await AssertProblemAsync(
        await Host.Admin.DeleteAsync("/api/keys/0b7c1b1e-7d0f-4f1a-9a57-2d6c3c0e9a11"), HttpStatusCode.NotFound, "key-not-known", "id");

    private static async Task AssertProblemAsync(HttpResponseMessage answer, HttpStatusCode status, string code, params string[] pointers)
    {
        using (answer)
        {
            var body = await answer.Content.ReadAsStringAsync();
            Assert.True(status == answer.StatusCode, $"{answer.StatusCode}: {body}");
            Assert.Equal("application/problem+json", answer.Content.Headers.ContentType?.MediaType);
            using var problem = JsonDocument.Parse(body);
            Assert.Equal(code, problem.RootElement.GetProperty("code").GetString());
            Assert.Equal(string.Join(' ', pointers), string.Join(' ', problem.RootElement.GetProperty("errors").EnumerateArray().Select(e => e.GetProperty("pointer").GetString())));
        }
    }

    private async Task<JsonElement> CreateAsync(object key)
    {
        using var answer = await Host.Admin.PostAsJsonAsync("/api/keys", key);
        Assert.Equal(HttpStatusCode.Created, answer.StatusCode);
        return (await answer.Content.ReadFromJsonAsync<JsonElement>()).Clone();
    }

    private async Task<string?> RevokedAtAsync(string name)
    {
        using var list = JsonDocument.Parse(await Host.Admin.GetStringAsync("/api/keys"));
        return list.RootElement.GetProperty("keys").EnumerateArray().Single(k => k.GetProperty("name").GetString() == name).GetProperty("revokedAt").GetString();
    }
}
