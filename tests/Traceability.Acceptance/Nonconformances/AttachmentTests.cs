using System.Net;
using System.Net.Http.Json;
using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using Npgsql;
using Traceability.Acceptance.Robustness;
using Traceability.Contracts;
using Traceability.Contracts.Attachments;
using Traceability.Testing;

namespace Traceability.Acceptance.Nonconformances;

/// <summary>Photos and files over the wire: what is taken, what is refused, and what comes back.</summary>
public sealed class AttachmentTests(ServiceFixture fixture) : IClassFixture<ServiceFixture>
{
    private ServiceHost Host => fixture.Host;

    [Fact]
    public async Task A_photo_comes_back_as_it_was_sent_and_can_not_run_in_a_browser()
    {
        var photo = Files.Png(1);
        using var sent = await Files.UploadAsync(Host.Station, photo, "image/png");
        Assert.Equal(HttpStatusCode.Created, sent.StatusCode);
        var stored = await ReadAsync(sent);
        Assert.Equal((Convert.ToHexStringLower(SHA256.HashData(photo)), "image/png", photo.Length), (stored.Hash, stored.MediaType, stored.Bytes));
        Assert.Equal($"/api/attachments/{stored.Hash}", sent.Headers.Location!.ToString());

        using var answer = await Host.Engineer.GetAsync(sent.Headers.Location);
        Assert.Equal(photo, await answer.Content.ReadAsByteArrayAsync());
        Assert.Equal("image/png", answer.Content.Headers.ContentType!.ToString());
        Assert.Equal("attachment", answer.Content.Headers.ContentDisposition!.DispositionType);
        Assert.Equal($"{stored.Hash[..12]}.png", answer.Content.Headers.ContentDisposition.FileName);
        Assert.Equal("nosniff", Assert.Single(answer.Headers.GetValues("X-Content-Type-Options")));
        Assert.Contains("sandbox", Assert.Single(answer.Headers.GetValues("Content-Security-Policy")), StringComparison.Ordinal);
    }

    [Fact]
    public async Task The_same_content_is_stored_once_by_whatever_type_it_is_called_again()
    {
        var table = Files.Text("time,torque\n1,1.2\n");
        using var first = await Files.UploadAsync(Host.Station, table, "text/csv; charset=utf-8");
        using var again = await Files.UploadAsync(Host.Quality, table, "text/plain");
        Assert.Equal((HttpStatusCode.Created, HttpStatusCode.OK), (first.StatusCode, again.StatusCode));
        Assert.Equal(await ReadAsync(first), await ReadAsync(again));
    }

    [Fact]
    public async Task The_same_content_from_many_at_once_is_created_once()
    {
        var photo = Files.Png(2);
        var answers = await Task.WhenAll(Enumerable.Range(0, 16).Select(_ => Files.UploadAsync(Host.Station, photo, "image/png")));
        Assert.Single(answers, a => a.StatusCode == HttpStatusCode.Created);
        Assert.Equal(15, answers.Count(a => a.StatusCode == HttpStatusCode.OK));
        Assert.Single((await Task.WhenAll(answers.Select(ReadAsync))).Distinct());
        await using var count = Host.Database.CreateCommand("select count(*) from traceability.attachment where hash = $1");
        count.Parameters.Add(new NpgsqlParameter { Value = Convert.ToHexStringLower(SHA256.HashData(photo)) });
        Assert.Equal(1L, await count.ExecuteScalarAsync());
        foreach (var answer in answers)
        {
            answer.Dispose();
        }
    }

    [Fact]
    public async Task What_is_not_whole_or_not_what_it_says_is_refused_and_nothing_is_kept()
    {
        var before = await Tables.CountAsync(Host.Database, "traceability.attachment");
        var photo = Files.Png(3);
        foreach (var (content, mediaType) in new (byte[], string)[]
        {
            (photo[..^1], "image/png"),
            ([.. photo, 0], "image/png"),
            (photo, "image/jpeg"),
            (photo, "text/plain"),
            (Files.Text("<svg/>"), "image/png"),
            ([], "image/png"),
            ([0xC3, 0x28], "text/plain"),
        })
        {
            using var answer = await Files.UploadAsync(Host.Station, content, mediaType);
            Assert.Equal(HttpStatusCode.BadRequest, answer.StatusCode);
            var problem = await answer.Content.ReadFromJsonAsync<Problem>(WireJson.Options);
            Assert.Equal(("attachment-malformed", string.Empty), (problem!.Code, Assert.Single(problem.Errors!).Pointer));
        }

        foreach (var mediaType in new[] { "image/svg+xml", "text/html", "application/javascript", "application/octet-stream" })
        {
            using var answer = await Files.UploadAsync(Host.Station, Files.Text("x"), mediaType);
            Assert.Equal(HttpStatusCode.UnsupportedMediaType, answer.StatusCode);
        }

        Assert.Equal(before, await Tables.CountAsync(Host.Database, "traceability.attachment"));
    }

    [Theory]
    [InlineData(0, HttpStatusCode.Created)]
    [InlineData(1, HttpStatusCode.RequestEntityTooLarge)]
    public async Task The_size_has_a_limit(int more, HttpStatusCode expected)
    {
        var text = new byte[(16 * 1024 * 1024) + more];
        text.AsSpan().Fill((byte)'a');
        using var answer = await Files.UploadAsync(Host.Station, text, "text/plain");
        Assert.Equal(expected, answer.StatusCode);
        if (expected == HttpStatusCode.Created)
        {
            using var back = await Host.Station.GetAsync(answer.Headers.Location);
            Assert.Equal(SHA256.HashData(text), SHA256.HashData(await back.Content.ReadAsByteArrayAsync()));
            Assert.Equal("text/plain; charset=utf-8", back.Content.Headers.ContentType!.ToString());
        }
    }

    private static async Task<StoredAttachment> ReadAsync(HttpResponseMessage answer) =>
        JsonSerializer.Deserialize<StoredAttachment>(Encoding.UTF8.GetString(await answer.Content.ReadAsByteArrayAsync()), WireJson.Options)!;
}
