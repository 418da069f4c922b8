using Npgsql;

namespace Traceability.Service.Ingest.Bulk;

/// <summary>One table's columns, each with the value that a row has there: written by binary COPY.</summary>
/// <remarks>The same shape as <see cref="Storage.Columns{T}"/>: which columns there are is said once for each way.</remarks>
internal sealed class CopyTable<T>(string name)
{
    // Enough for one write to the socket to be worth it; a row that is longer makes its block longer.
    private const int BlockBytes = 1 << 16;

    private readonly List<(string Name, Action<CopyBuffer, T> Write)> _columns = [];

    /// <summary>The table's name, without its schema.</summary>
    public string Name { get; } = name;

    /// <summary>The names of the columns.</summary>
    public IEnumerable<string> Columns => _columns.Select(c => c.Name);

    public CopyTable<T> Text(string column, Func<T, string?> value) => Add(column, (to, row) => to.Text(value(row)));

    public CopyTable<T> Integer(string column, Func<T, int> value) => Add(column, (to, row) => to.Integer(value(row)));

    public CopyTable<T> Bigint(string column, Func<T, long> value) => Add(column, (to, row) => to.Bigint(value(row)));

    public CopyTable<T> Uuid(string column, Func<T, Guid?> value) => Add(column, (to, row) => to.Uuid(value(row)));

    public CopyTable<T> Real(string column, Func<T, double?> value) => Add(column, (to, row) => to.Real(value(row)));

    public CopyTable<T> Boolean(string column, Func<T, bool?> value) => Add(column, (to, row) => to.Boolean(value(row)));

    public CopyTable<T> Date(string column, Func<T, DateOnly> value) => Add(column, (to, row) => to.Date(value(row)));

    public CopyTable<T> Bytes(string column, Func<T, byte[]> value) => Add(column, (to, row) => to.Bytes(value(row)));

    /// <summary>JSON as UTF-8; null for none.</summary>
    public CopyTable<T> Json(string column, Func<T, byte[]?> value) => Add(column, (to, row) => to.Json(value(row)));

    public CopyTable<T> Interval(string column, Func<T, TimeSpan?> value) => Add(column, (to, row) => to.Interval(value(row)));

    public CopyTable<T> Time(string column, Func<T, DateTimeOffset?> value) => Add(column, (to, row) => to.Time(value(row)));

    /// <summary>Writes the rows into the table of that name in a schema; gives their number. Blocks the thread while the server takes them.</summary>
    public long Write(NpgsqlConnection connection, string schema, IEnumerable<T> rows)
    {
        using var all = rows.GetEnumerator();
        if (!all.MoveNext())
        {
            return 0;
        }

        var count = 0L;
        var buffer = new CopyBuffer(BlockBytes);
        using var stream = connection.BeginRawBinaryCopy($"copy {schema}.{Name} ({string.Join(", ", Columns)}) from stdin (format binary)");
        try
        {
            buffer.Begin();
            do
            {
                buffer.BeginRow(_columns.Count);
                foreach (var (_, write) in _columns)
                {
                    write(buffer, all.Current);
                }

                count++;
                if (buffer.Length >= BlockBytes)
                {
                    stream.Write(buffer.Written);
                    buffer.Clear();
                }
            }
            while (all.MoveNext());

            buffer.End();
            stream.Write(buffer.Written);
            return count;
        }
        catch
        {
            // Else its disposal would end the copy as if all had been written.
            stream.Cancel();
            throw;
        }
    }

    private CopyTable<T> Add(string column, Action<CopyBuffer, T> write)
    {
        _columns.Add((column, write));
        return this;
    }
}
