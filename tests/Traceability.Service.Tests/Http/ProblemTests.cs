using System.Net;
using System.Text;
using System.Text.Json;
using Microsoft.AspNetCore.Http;
using Microsoft.Extensions.Logging.Abstractions;
using Traceability.Service.Http;
using Traceability.Testing;
using Xunit;

namespace Traceability.Service.Tests.Http;

public sealed class ProblemTests(ServiceFixture fixture) : IClassFixture<ServiceFixture>
{
    private HttpClient Admin => fixture.Host.Admin;

    [Fact]
    public async Task An_address_with_nothing_at_it_is_a_problem() => await AssertAsync(await Admin.GetAsync("/api/nothing"), 404, "route-unknown");

    [Fact]
    public async Task Without_a_key_nobody_learns_what_is_there() => await AssertAsync(await fixture.Host.Anonymous.GetAsync("/api/nothing"), 401, "key-missing");

    [Fact]
    public async Task A_method_that_is_not_taken_is_a_problem_that_names_those_that_are()
    {
        using var answer = await Admin.PatchAsync("/api/keys", null);

        Assert.Contains("POST", (await ProblemAsync(answer, 405, "method-not-allowed")).GetProperty("detail").GetString(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_media_type_that_is_not_taken_is_a_problem()
    {
        using var text = new StringContent("name=x", Encoding.UTF8, "text/plain");

        await AssertAsync(await Admin.PostAsync("/api/keys", text), 415, "media-type-unsupported");
    }

    [Theory]
    [InlineData(65_536, 400)]
    [InlineData(65_537, 413)]
    public async Task A_body_may_be_as_large_as_the_limit_and_no_larger(int bytes, int status)
    {
        // Malformed on purpose: what is small enough gets as far as being read.
        using var body = new StringContent(new string(' ', bytes), Encoding.UTF8, "application/json");

        await AssertAsync(await Admin.PostAsync("/api/keys", body), status, status == 413 ? "body-too-large" : "body-malformed");
    }

    [Fact]
    public async Task A_body_of_unsaid_length_is_cut_off_at_the_limit()
    {
        using var request = new HttpRequestMessage(HttpMethod.Post, "/api/keys") { Content = new StringContent(new string(' ', 100_000), Encoding.UTF8, "application/json") };
        request.Headers.TransferEncodingChunked = true;

        await AssertAsync(await Admin.SendAsync(request), 413, "body-too-large");
    }

    [Theory]
    [InlineData("{\"name\":\"x\",\"role\":\"quality\",\"colour\":\"red\"}", "/colour")]
    [InlineData("{\"name\":\"x\",\"role\":7}", "/role")]
    [InlineData("{\"name\":null,\"role\":\"quality\"}", "/name")]
    [InlineData("{\"name\":\"x\",\"name\":\"y\",\"role\":\"quality\"}", "/name")]
    [InlineData("{\"name\":\"x\"}", "/role")]
    [InlineData("{", "")]
    [InlineData("", "")]
    [InlineData("null", "")]
    [InlineData("[]", "")]
    [InlineData("NaN", "")]
    public async Task A_body_that_cannot_be_read_names_the_place(string body, string pointer)
    {
        using var content = new StringContent(body, Encoding.UTF8, "application/json");
        using var answer = await Admin.PostAsync("/api/keys", content);

        var problem = await ProblemAsync(answer, 400, "body-malformed");

        Assert.Equal(pointer, problem.GetProperty("errors").EnumerateArray().Single().GetProperty("pointer").GetString());
    }

    [Fact]
    public async Task A_problem_carries_the_trace_id_that_the_caller_sent()
    {
        using var request = new HttpRequestMessage(HttpMethod.Get, "/api/nothing");

        // The example of W3C Trace Context, section 3.2.
        request.Headers.Add("traceparent", "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01");
        using var answer = await Admin.SendAsync(request);

        Assert.Equal("4bf92f3577b34da6a3ce929d0e0e4736", (await ProblemAsync(answer, 404, "route-unknown")).GetProperty("traceId").GetString());
    }

    [Fact]
    public async Task What_nobody_foresaw_is_a_problem_that_shows_nothing_of_the_inside()
    {
        using var body = new MemoryStream();
        var context = new DefaultHttpContext { RequestServices = fixture.Host.App.Services };
        context.Response.Body = body;

        Assert.True(await new ExceptionProblems(NullLogger<ExceptionProblems>.Instance).TryHandleAsync(
            context, new InvalidOperationException("Host=secret.example;Password=hidden"), CancellationToken.None));

        Assert.Equal(500, context.Response.StatusCode);
        var text = Encoding.UTF8.GetString(body.ToArray());
        Assert.Contains("\"code\":\"unexpected\"", text, StringComparison.Ordinal);
        Assert.DoesNotContain("secret", text, StringComparison.Ordinal);
        Assert.DoesNotContain("InvalidOperation", text, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("$", "")]
    [InlineData("$.unit.item", "/unit/item")]
    [InlineData("$.checks[0].characteristic", "/checks/0/characteristic")]
    [InlineData("$['a.b'].c", "/a.b/c")]
    [InlineData("$['a/b~c']", "/a~1b~0c")]
    [InlineData("$.a[12][3]", "/a/12/3")]
    public void A_path_becomes_a_json_pointer(string path, string pointer) => Assert.Equal(pointer, JsonPointers.FromPath(path));

    [Fact]
    public void Any_text_becomes_some_pointer() =>
        CsCheck.Check.Sample(CsCheck.Gen.String[CsCheck.Gen.Char["$.[]'~/a0"], 0, 12], path =>
        {
            var pointer = JsonPointers.FromPath(path);
            return pointer.Length == 0 || pointer[0] == '/';
        });

    [Fact]
    public async Task Every_answer_carries_the_security_headers()
    {
        foreach (var path in new[] { "/api/keys", "/api/nothing", "/health/live", "/docs", "/openapi.json" })
        {
            using var answer = await Admin.GetAsync(path);
            Assert.Equal("nosniff", answer.Headers.GetValues("X-Content-Type-Options").Single());
            Assert.Equal("DENY", answer.Headers.GetValues("X-Frame-Options").Single());
            Assert.Equal("no-referrer", answer.Headers.GetValues("Referrer-Policy").Single());
            Assert.Contains("default-src 'none'", answer.Headers.GetValues("Content-Security-Policy").Single(), StringComparison.Ordinal);
            Assert.Empty(answer.Headers.Server);
            Assert.Equal(path.StartsWith("/api", StringComparison.Ordinal), answer.Headers.CacheControl?.NoStore ?? false);
        }
    }

    [Fact]
    public async Task The_reference_page_needs_nothing_from_elsewhere_and_runs_no_inline_script()
    {
        var page = await fixture.Host.Anonymous.GetStringAsync("/docs");
        var script = await fixture.Host.Anonymous.GetStringAsync("/docs/reference.js");
        var style = await fixture.Host.Anonymous.GetStringAsync("/docs/reference.css");

        Assert.All([page, script, style], text => Assert.DoesNotContain("//cdn", text, StringComparison.OrdinalIgnoreCase));
        Assert.DoesNotContain("http://", page + script + style, StringComparison.Ordinal);
        Assert.DoesNotContain("https://", page + script + style, StringComparison.Ordinal);
        Assert.DoesNotMatch("<script(?![^>]*src=)", page);
        Assert.DoesNotContain("style=", page, StringComparison.Ordinal);
        Assert.DoesNotContain("innerHTML", script, StringComparison.Ordinal);
        using var document = JsonDocument.Parse(await fixture.Host.Anonymous.GetStringAsync("/openapi.json"));
        Assert.StartsWith("3.1", document.RootElement.GetProperty("openapi").GetString(), StringComparison.Ordinal);
    }

    private static async Task AssertAsync(HttpResponseMessage answer, int status, string code)
    {
        using (answer)
        {
            await ProblemAsync(answer, status, code);
        }
    }

    private static async Task<JsonElement> ProblemAsync(HttpResponseMessage answer, int status, string code)
    {
        var text = await answer.Content.ReadAsStringAsync();
        Assert.True((HttpStatusCode)status == answer.StatusCode, $"{answer.StatusCode}: {text}");
        Assert.Equal("application/problem+json", answer.Content.Headers.ContentType?.MediaType);
        using var problem = JsonDocument.Parse(text);
        Assert.Equal(code, problem.RootElement.GetProperty("code").GetString());
        Assert.Equal($"/problems/{code}", problem.RootElement.GetProperty("type").GetString());
        Assert.Equal(status, problem.RootElement.GetProperty("status").GetInt32());
        Assert.Equal(32, problem.RootElement.GetProperty("traceId").GetString()!.Length);
        return problem.RootElement.Clone();
    }
}
