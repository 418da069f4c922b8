using Npgsql;
using NpgsqlTypes;

namespace Traceability.Service.Ingest.Bulk;

/// <summary>One table's columns, each with the value that a row has there: written by binary COPY.</summary>
/// <remarks>The same shape as <see cref="Storage.Columns{T}"/>: which columns there are is said once for each way.</remarks>
internal sealed class CopyTable<T>(string name)
{
    private readonly List<(string Name, Action<NpgsqlBinaryImporter, T> Write)> _columns = [];

    /// <summary>The table's name, without its schema.</summary>
    public string Name { get; } = name;

    /// <summary>The names of the columns.</summary>
    public IEnumerable<string> Columns => _columns.Select(c => c.Name);

    public CopyTable<T> Text(string column, Func<T, string?> value) => Add(column, (to, row) => WriteOrNull(to, value(row), NpgsqlDbType.Text));

    public CopyTable<T> Integer(string column, Func<T, int> value) => Add(column, (to, row) => to.Write(value(row), NpgsqlDbType.Integer));

    public CopyTable<T> Bigint(string column, Func<T, long> value) => Add(column, (to, row) => to.Write(value(row), NpgsqlDbType.Bigint));

    public CopyTable<T> Uuid(string column, Func<T, Guid?> value) => Add(column, (to, row) => WriteOrNull(to, value(row), NpgsqlDbType.Uuid));

    public CopyTable<T> Real(string column, Func<T, double?> value) => Add(column, (to, row) => WriteOrNull(to, value(row), NpgsqlDbType.Double));

    public CopyTable<T> Boolean(string column, Func<T, bool?> value) => Add(column, (to, row) => WriteOrNull(to, value(row), NpgsqlDbType.Boolean));

    public CopyTable<T> Date(string column, Func<T, DateOnly> value) => Add(column, (to, row) => to.Write(value(row), NpgsqlDbType.Date));

    public CopyTable<T> Bytes(string column, Func<T, byte[]> value) => Add(column, (to, row) => to.Write(value(row), NpgsqlDbType.Bytea));

    public CopyTable<T> Json(string column, Func<T, string?> value) => Add(column, (to, row) => WriteOrNull(to, value(row), NpgsqlDbType.Jsonb));

    public CopyTable<T> Interval(string column, Func<T, TimeSpan?> value) => Add(column, (to, row) => WriteOrNull(to, value(row), NpgsqlDbType.Interval));

    public CopyTable<T> Time(string column, Func<T, DateTimeOffset?> value) => Add(column, (to, row) =>
    {
        if (value(row) is { } at)
        {
            to.Write(at.UtcDateTime, NpgsqlDbType.TimestampTz);
        }
        else
        {
            to.WriteNull();
        }
    });

    /// <summary>Writes the rows into the table of that name in a schema; gives their number. Blocks the thread while the server takes them.</summary>
    public long Write(NpgsqlConnection connection, string schema, IEnumerable<T> rows)
    {
        using var all = rows.GetEnumerator();
        if (!all.MoveNext())
        {
            return 0;
        }

        using var importer = connection.BeginBinaryImport($"copy {schema}.{Name} ({string.Join(", ", Columns)}) from stdin (format binary)");
        do
        {
            importer.StartRow();
            foreach (var (_, write) in _columns)
            {
                write(importer, all.Current);
            }
        }
        while (all.MoveNext());

        return checked((long)importer.Complete());
    }

    private static void WriteOrNull(NpgsqlBinaryImporter to, string? text, NpgsqlDbType type)
    {
        if (text is null)
        {
            to.WriteNull();
        }
        else
        {
            to.Write(text, type);
        }
    }

    private static void WriteOrNull<TValue>(NpgsqlBinaryImporter to, TValue? value, NpgsqlDbType type)
        where TValue : struct
    {
        if (value is { } known)
        {
            to.Write(known, type);
        }
        else
        {
            to.WriteNull();
        }
    }

    private CopyTable<T> Add(string column, Action<NpgsqlBinaryImporter, T> write)
    {
        _columns.Add((column, write));
        return this;
    }
}
