using System.Buffers;
using System.Threading.Channels;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Hosting;
using Microsoft.AspNetCore.Http;
using Microsoft.Extensions.Logging;
using Npgsql;
using NpgsqlTypes;

namespace Traceability.Benchmarks.Servers;

/// <summary>What the service is compared with: endpoints that store the same bytes, checked and judged by nobody.</summary>
/// <remarks>
/// "/single" does one INSERT, in a transaction of its own, for each post. "/group" is the limit of a group commit: one committer,
/// no timer, one INSERT of many rows. The key comes in a header, so that the body needs no reading.
/// </remarks>
internal static class BareServer
{
    public const string Name = "serve-bare";
    public const string IdHeader = "Fact-Id";

    // More connections than this made it slower on two cores, not faster.
    private const int ConnectionsMax = 32;
    private const int GroupMax = 256;

    private sealed record Waiting(Guid Id, string Json)
    {
        public TaskCompletionSource Stored { get; } = new(TaskCreationOptions.RunContinuationsAsynchronously);
    }

    public static async Task<int> RunAsync(string connection, string url)
    {
        var settings = new NpgsqlConnectionStringBuilder(connection) { MaxPoolSize = ConnectionsMax, MaxAutoPrepare = 10, AutoPrepareMinUsages = 2 };
        await using var database = NpgsqlDataSource.Create(settings.ConnectionString);
        var queue = Channel.CreateUnbounded<Waiting>(new() { SingleReader = true });
        var builder = WebApplication.CreateSlimBuilder();
        builder.Logging.ClearProviders();
        builder.WebHost.UseUrls(url);
        await using var app = builder.Build();
        app.Run(context => context.Request.Path.Value == "/group" ? GroupAsync(context, queue.Writer) : SingleAsync(context, database));
        var committer = CommitAsync(queue.Reader, database);
        await app.RunAsync();
        queue.Writer.TryComplete();
        await committer;
        return 0;
    }

    private static async Task SingleAsync(HttpContext context, NpgsqlDataSource database)
    {
        var json = await ReadAsync(context.Request);
        await using var connection = await database.OpenConnectionAsync(context.RequestAborted);
        await using var command = new NpgsqlCommand("insert into bare (id, data) values ($1, $2)", connection);
        command.Parameters.Add(new() { Value = IdOf(context), NpgsqlDbType = NpgsqlDbType.Uuid });
        command.Parameters.Add(new() { Value = json, NpgsqlDbType = NpgsqlDbType.Jsonb });
        await command.ExecuteNonQueryAsync(context.RequestAborted);
        context.Response.StatusCode = StatusCodes.Status201Created;
        context.Response.ContentLength = 0;
    }

    private static async Task GroupAsync(HttpContext context, ChannelWriter<Waiting> queue)
    {
        var waiting = new Waiting(IdOf(context), System.Text.Encoding.UTF8.GetString(await ReadAsync(context.Request)));
        await queue.WriteAsync(waiting, context.RequestAborted);
        await waiting.Stored.Task;
        context.Response.StatusCode = StatusCodes.Status201Created;
        context.Response.ContentLength = 0;
    }

    private static async Task CommitAsync(ChannelReader<Waiting> queue, NpgsqlDataSource database)
    {
        await using var connection = await database.OpenConnectionAsync();
        List<Waiting> group = [];
        while (await queue.WaitToReadAsync())
        {
            group.Clear();
            while (group.Count < GroupMax && queue.TryRead(out var waiting))
            {
                group.Add(waiting);
            }

            await using var command = new NpgsqlCommand("insert into bare (id, data) select * from unnest($1, $2)", connection);
            command.Parameters.Add(new() { Value = group.Select(w => w.Id).ToArray(), NpgsqlDbType = NpgsqlDbType.Array | NpgsqlDbType.Uuid });
            command.Parameters.Add(new() { Value = group.Select(w => w.Json).ToArray(), NpgsqlDbType = NpgsqlDbType.Array | NpgsqlDbType.Jsonb });
            await command.ExecuteNonQueryAsync();
            group.ForEach(w => w.Stored.SetResult());
        }
    }

    private static Guid IdOf(HttpContext context) => Guid.Parse(context.Request.Headers[IdHeader].ToString());

    private static async Task<byte[]> ReadAsync(HttpRequest request)
    {
        while (true)
        {
            var read = await request.BodyReader.ReadAsync();
            if (read.IsCompleted)
            {
                var bytes = read.Buffer.ToArray();
                request.BodyReader.AdvanceTo(read.Buffer.End);
                return bytes;
            }

            request.BodyReader.AdvanceTo(read.Buffer.Start, read.Buffer.End);
        }
    }
}
