using System.Buffers.Binary;
using System.Net.Sockets;
using System.Text;
using Npgsql;

namespace Traceability.Acceptance.Faults;

/// <summary>
/// A session that has sent a part of a commit and then stands still, as an instance does that is stopped in the midst of
/// sending: statements sent together, the first of them done, and no end of the message.
/// </summary>
/// <remarks>Written to PostgreSQL's "Frontend/Backend Protocol", version 3.0, since a client library always ends what it sends.</remarks>
internal sealed class UnfinishedCommit : IDisposable
{
    private readonly Socket socket = new(AddressFamily.Unix, SocketType.Stream, ProtocolType.Unspecified);

    private UnfinishedCommit()
    {
    }

    /// <summary>Connects as the service's committer does and runs one statement in a transaction that it does not end.</summary>
    public static async Task<UnfinishedCommit> BeginAsync(string connectionString, string statement)
    {
        var where = new NpgsqlConnectionStringBuilder(connectionString);
        var unfinished = new UnfinishedCommit();
        await unfinished.socket.ConnectAsync(new UnixDomainSocketEndPoint(Path.Combine(where.Host!, ".s.PGSQL.5432")));
        await unfinished.socket.SendAsync(Message(null, [0, 3, 0, 0, .. Text("user"), .. Text(where.Username!), .. Text("database"), .. Text(where.Database!), .. Text("application_name"), .. Text("traceability-commit"), 0]));

        // The answer to the start is not looked at: nothing of it is needed, and the server sends it all at once.
        await unfinished.ReadAsync('Z');

        // Parse, bind and execute without a sync: the transaction stays open and the session is at work, in the server's eyes.
        await unfinished.socket.SendAsync(Message('P', [.. Text(string.Empty), .. Text(statement), 0, 0]));
        await unfinished.socket.SendAsync(Message('B', [0, 0, 0, 0, 0, 0, 0, 0]));
        await unfinished.socket.SendAsync(Message('E', [0, 0, 0, 0, 0]));

        // A flush, so that it is known to be done.
        await unfinished.socket.SendAsync(Message('H', []));
        await unfinished.ReadAsync('C');
        return unfinished;
    }

    /// <inheritdoc />
    public void Dispose() => socket.Dispose();

    private async Task ReadAsync(char last)
    {
        using var timeout = new CancellationTokenSource(TimeSpan.FromSeconds(20));
        var head = new byte[5];
        do
        {
            await FillAsync(head, timeout.Token);
            var body = new byte[BinaryPrimitives.ReadInt32BigEndian(head.AsSpan(1)) - 4];
            await FillAsync(body, timeout.Token);
            if (head[0] == (byte)'E')
            {
                throw new InvalidOperationException(Encoding.UTF8.GetString(body));
            }
        }
        while (head[0] != (byte)last);
    }

    private async Task FillAsync(byte[] buffer, CancellationToken cancellation)
    {
        for (var filled = 0; filled < buffer.Length;)
        {
            var read = await socket.ReceiveAsync(buffer.AsMemory(filled), cancellation);
            filled += read > 0 ? read : throw new IOException("The server has closed the connection.");
        }
    }

    private static byte[] Text(string text) => [.. Encoding.UTF8.GetBytes(text), 0];

    private static byte[] Message(char? type, byte[] body)
    {
        var length = new byte[4];
        BinaryPrimitives.WriteInt32BigEndian(length, body.Length + 4);
        return type is { } t ? [(byte)t, .. length, .. body] : [.. length, .. body];
    }
}
