using System.Globalization;
using System.Net;
using System.Text;
using System.Text.Json;
using Traceability.Testing;

namespace Traceability.Acceptance.Robustness;

/// <summary>Bad input, at every endpoint: a problem document that names the place, and nothing written.</summary>
public sealed class EndpointRejectionTests(EndpointRejectionTests.Fixture fixture) : IClassFixture<EndpointRejectionTests.Fixture>
{
    private static readonly string[] BadPathValues = ["a%20b", "%C3%A9", "a%2Fb", new('x', 300), "%3Cb%3E"];
    private static readonly string[] MalformedBodies = ["", " ", "[", "{", "nul", "\"text\"", "5", "[]", "null", "{}}", "{\"a\":1,}", "\uFEFF", "// {}", "{\"a\":NaN}"];

    private ServiceHost Host => fixture.Host;

    [Fact]
    public void Every_endpoint_has_its_expectations()
    {
        var there = EndpointList.Of(Host).Order(StringComparer.Ordinal);

        Assert.Equal(string.Join('\n', there), string.Join('\n', fixture.All.Select(e => e.Name).Order(StringComparer.Ordinal)));
    }

    [Fact]
    public async Task Every_parameter_of_the_contract_is_tried_with_values_that_it_can_not_have()
    {
        using var document = JsonDocument.Parse(await Host.Anonymous.GetStringAsync("/openapi.json"));
        List<string> untried = [];
        foreach (var path in document.RootElement.GetProperty("paths").EnumerateObject())
        {
            foreach (var operation in path.Value.EnumerateObject())
            {
                var expected = fixture.All.Single(e => e.Name == $"{operation.Name.ToUpperInvariant()} {path.Name}");
                var parameters = operation.Value.TryGetProperty("parameters", out var list) ? list.EnumerateArray().ToArray() : [];
                untried.AddRange(parameters
                    .Where(p => p.GetProperty("in").GetString() == "query")
                    .Select(p => p.GetProperty("name").GetString()!)
                    .Where(n => !expected.BadQueries.Any(q => string.Equals(q.Pointer, n, StringComparison.OrdinalIgnoreCase)))
                    .Select(n => $"{expected.Name}: {n}"));
                Assert.Equal(operation.Value.TryGetProperty("requestBody", out _), expected.MediaType is not null);
            }
        }

        Assert.Equal(string.Empty, string.Join('\n', untried));
    }

    [Fact]
    public Task What_is_not_known_is_not_found_by_name() => NothingWrittenAsync(async check =>
    {
        foreach (var endpoint in fixture.All)
        {
            var needed = endpoint.PathValues.Length > 0 && endpoint.MediaType is null && !endpoint.Name.EndsWith("{item}", StringComparison.Ordinal);
            Assert.True(endpoint.Unknown.Length > 0 || !needed, $"{endpoint.Name} names something in its path, and nothing unknown is tried.");
            foreach (var (path, code, pointer) in endpoint.Unknown)
            {
                await check.RefusedAsync(endpoint, path, endpoint.Body, 404, code, pointer);
            }
        }
    });

    [Fact]
    public Task Values_in_the_path_that_do_not_have_their_form_are_named() => NothingWrittenAsync(async check =>
    {
        foreach (var endpoint in fixture.All.Where(e => e.IsApi))
        {
            foreach (var name in endpoint.PathValues)
            {
                foreach (var value in BadPathValues)
                {
                    await check.RefusedAsync(endpoint, endpoint.With(name, value), endpoint.Body, 400, null, name);
                }
            }
        }
    });

    [Fact]
    public async Task A_zero_byte_in_the_address_is_refused_before_it_reaches_any_endpoint()
    {
        foreach (var endpoint in fixture.All.Where(e => e.IsApi))
        {
            foreach (var name in endpoint.PathValues)
            {
                // The server library ends such a request by itself, with a bare 400.
                using var request = new HttpRequestMessage(endpoint.Method, new Uri(Host.Address, endpoint.With(name, "%00")));
                using var answer = await Host.Admin.SendAsync(request);
                Assert.Equal(HttpStatusCode.BadRequest, answer.StatusCode);
            }
        }
    }

    [Fact]
    public Task Queries_that_can_not_be_read_name_the_parameter() => NothingWrittenAsync(async check =>
    {
        foreach (var endpoint in fixture.All.Where(e => e.IsApi))
        {
            var path = endpoint.Path.Split('?')[0];
            foreach (var (query, pointer) in endpoint.BadQueries)
            {
                await check.RefusedAsync(endpoint, $"{path}?{query}", endpoint.Body, 400, null, pointer);
            }

            // No recorded text has it, and the database takes none with it.
            foreach (var parameter in endpoint.BadQueries.Select(q => q.Pointer).Distinct(StringComparer.Ordinal))
            {
                await check.RefusedAsync(endpoint, $"{path}?{parameter}=%00", endpoint.Body, 400, "query-invalid", parameter);
            }

            // A misspelt filter must not be taken for none.
            var glue = endpoint.Path.Contains('?', StringComparison.Ordinal) ? '&' : '?';
            await check.RefusedAsync(endpoint, $"{endpoint.Path}{glue}limt=5", endpoint.Body, 400, "query-invalid", "limt");
            await check.RefusedAsync(endpoint, $"{endpoint.Path}{glue}limt=5&colour=red", endpoint.Body, 400, "query-invalid", "limt", "colour");
        }
    });

    [Fact]
    public Task Bodies_of_no_or_of_another_form_are_refused() => NothingWrittenAsync(async check =>
    {
        foreach (var endpoint in fixture.All.Where(e => e.MediaType is not null and not "application/x-ndjson"))
        {
            // An empty question asks about the step alone.
            foreach (var body in MalformedBodies.Where(b => b.Length > 0 || !endpoint.Name.EndsWith("/readiness", StringComparison.Ordinal)))
            {
                await check.RefusedAsync(endpoint, endpoint.Path, body, 400, endpoint.MalformedCode);
            }

            await check.RefusedAsync(endpoint, endpoint.Path, string.Concat(Enumerable.Repeat("[", 20_000)), 400, null);
            await check.RefusedAsync(endpoint, endpoint.Path, string.Concat(Enumerable.Repeat("{\"a\":", 9_000)), 400, null);
        }
    });

    [Fact]
    public Task Bodies_of_another_media_type_or_size_are_refused() => NothingWrittenAsync(async check =>
    {
        foreach (var endpoint in fixture.All.Where(e => e.MediaType is not null))
        {
            foreach (var type in new[] { "text/plain", "application/xml", "application/jsonx", null }.Except(endpoint.AlsoTakes))
            {
                await check.RefusedAsync(endpoint, endpoint.Path, new ByteArrayContent(Encoding.UTF8.GetBytes(endpoint.Body)), type, 415, "media-type-unsupported");
            }

            // A file of history may have any length.
            if (endpoint.BytesMax == int.MaxValue)
            {
                continue;
            }

            await check.RefusedAsync(endpoint, endpoint.Path, new ByteArrayContent(new byte[endpoint.BytesMax + 1]), endpoint.MediaType, 413, "body-too-large");
            if (endpoint.BytesMax < 1 << 20)
            {
                // Without a length: what is too large is only found while it is read.
                await check.RefusedAsync(endpoint, endpoint.Path, new StreamContent(new Endless(endpoint.BytesMax + 100_000)), endpoint.MediaType, 413, "body-too-large");
            }
        }
    });

    [Fact]
    public Task Bodies_with_faults_name_every_place() => NothingWrittenAsync(async check =>
    {
        foreach (var endpoint in fixture.All)
        {
            Assert.True(endpoint.MediaType is null || endpoint.Bodies.Length > 0 || endpoint.MediaType == "application/x-ndjson", $"{endpoint.Name} takes a body, and no bad one is tried.");
            foreach (var (what, body, status, code, pointers) in endpoint.Bodies)
            {
                check.What = what;
                await check.RefusedAsync(endpoint, endpoint.Path, body, status, code, pointers);
            }
        }

        var facts = fixture.All.Single(e => e.Name == "POST /api/facts");
        foreach (var (what, body, status, code, pointers) in FactCases.About(fixture.Works, fixture.Lamp))
        {
            check.What = what;
            await check.RefusedAsync(facts, facts.Path, body, status, code, pointers);
        }
    });

    [Fact]
    public Task A_batch_answers_each_bad_line_as_a_post_of_its_own_would() => NothingWrittenAsync(async check =>
    {
        var cases = FactCases.All(fixture.Works).Concat(FactCases.About(fixture.Works, fixture.Lamp)).ToArray();
        var lines = cases.Select(c => c.Body.ReplaceLineEndings(" ")).Append(new string('x', (256 * 1024) + 1)).Append("{").ToArray();
        using var content = new StringContent(string.Join('\n', lines), Encoding.UTF8, "application/x-ndjson");
        using var answer = await Host.Admin.PostAsync("/api/facts/batch", content);
        Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
        var replies = (await answer.Content.ReadAsStringAsync()).Split('\n', StringSplitOptions.RemoveEmptyEntries).Select(l => JsonDocument.Parse(l).RootElement).ToArray();

        Assert.Equal(lines.Length, replies.Length);
        Assert.Equal(Enumerable.Range(1, lines.Length), replies.Select(r => r.GetProperty("line").GetInt32()));
        for (var i = 0; i < cases.Length; i++)
        {
            check.What = $"line {i + 1}, {cases[i].What}";
            check.Same(cases[i].Status, replies[i].GetProperty("status").GetInt32(), replies[i].GetProperty("problem"), cases[i].Code, cases[i].Pointers);
        }

        check.What = "a line too long";
        check.Same(400, replies[^2].GetProperty("status").GetInt32(), replies[^2].GetProperty("problem"), "body-too-large", []);
        check.What = "a broken line";
        check.Same(400, replies[^1].GetProperty("status").GetInt32(), replies[^1].GetProperty("problem"), "fact-malformed", [string.Empty]);
    });

    [Fact]
    public Task A_clock_that_can_not_be_read_is_refused_at_both_ways_in() => NothingWrittenAsync(async check =>
    {
        foreach (var endpoint in fixture.All.Where(e => e.Name.StartsWith("POST /api/facts", StringComparison.Ordinal)))
        {
            foreach (var sentAt in new[] { "2026-03-01T08:00:00", "now", "NaN", "2026-03-01", "2026-02-30T08:00:00Z" })
            {
                check.What = $"Sent-At {sentAt}";
                using var request = new HttpRequestMessage(endpoint.Method, endpoint.Path) { Content = new StringContent(endpoint.Body, Encoding.UTF8, endpoint.MediaType!) };
                request.Headers.TryAddWithoutValidation("Sent-At", sentAt);
                await check.RefusedAsync(request, 400, "sent-at-invalid", "Sent-At");
            }
        }
    });

    private async Task NothingWrittenAsync(Func<RefusalCheck, Task> act)
    {
        await Tables.SettleAsync(Host.Database);
        var before = await Tables.CountsAsync(Host.Database);
        var check = new RefusalCheck(Host);
        await act(check);

        Assert.True(check.Tried > 0);
        Assert.True(check.Wrong.Count == 0, string.Create(CultureInfo.InvariantCulture, $"{check.Wrong.Count} of {check.Tried}:\n") + string.Join('\n', check.Wrong.Take(40)));
        Assert.Equal(before, await Tables.CountsAsync(Host.Database));
    }

    /// <summary>A service that knows the lamp works and one lamp, and what is expected of its endpoints.</summary>
    public sealed class Fixture : IAsyncLifetime
    {
        /// <summary>Gets the service.</summary>
        public ServiceHost Host { get; private set; } = null!;

        internal LampWorks Works { get; } = new(5, LampWorks.DaysAgo(6));

        internal IReadOnlyList<Sent> Lamp { get; private set; } = [];

        internal IReadOnlyList<Expectation> All { get; private set; } = [];

        /// <inheritdoc />
        public async Task InitializeAsync()
        {
            Host = await ServiceHost.StartAsync();
            Lamp = Works.SimpleLamp(1, 0);
            await Terminal.PostAllAsync(Host.Admin, [.. Works.Definitions(), .. Lamp, .. Works.SimpleLamp(2, 0)], batch: 50);
            All = Expectations.All(Works);
        }

        /// <inheritdoc />
        public async Task DisposeAsync() => await Host.DisposeAsync();
    }

    // Blanks without an end that is told.
    private sealed class Endless(int bytes) : Stream
    {
        private int left = bytes;

        public override bool CanRead => true;

        public override bool CanSeek => false;

        public override bool CanWrite => false;

        public override long Length => throw new NotSupportedException();

        public override long Position
        {
            get => throw new NotSupportedException();
            set => throw new NotSupportedException();
        }

        public override int Read(byte[] buffer, int offset, int count)
        {
            var given = Math.Min(left, count);
            buffer.AsSpan(offset, given).Fill((byte)' ');
            left -= given;
            return given;
        }

        public override void Flush()
        {
        }

        public override long Seek(long offset, SeekOrigin origin) => throw new NotSupportedException();

        public override void SetLength(long value) => throw new NotSupportedException();

        public override void Write(byte[] buffer, int offset, int count) => throw new NotSupportedException();
    }
}
