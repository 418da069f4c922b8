using Npgsql;
using NpgsqlTypes;

namespace Traceability.Service.Storage;

/// <summary>What the database requires of a plan; it answers with this error when it doesn't hold.</summary>
internal static class StoredRequirement
{
    /// <summary>The error's code.</summary>
    public const string SqlState = "TR001";

    /// <summary>A fact of this id is not stored yet.</summary>
    public const string Receipt = "receipt";

    /// <summary>A stream is at the version that was read.</summary>
    public const string Stream = "stream";

    /// <summary>A unit's rows are those that were read.</summary>
    public const string Unit = "unit";

    /// <summary>Nothing that judgements look at has changed.</summary>
    public const string Clock = "clock";
}

/// <summary>Columns of rows that a statement takes as parameters: one array for each column, with one value for each row.</summary>
/// <remarks>Made once: the text of a statement depends on the columns only, never on the number of rows, so the server plans it once.</remarks>
internal sealed class Columns<T>
{
    private readonly List<(string Name, string Type, Func<IReadOnlyList<T>, NpgsqlParameter> Fill)> _columns = [];

    /// <summary>How many there are.</summary>
    public int Count => _columns.Count;

    /// <summary>Their names, as a list for SQL.</summary>
    public string Names => string.Join(", ", _columns.Select(c => c.Name));

    public Columns<T> Text(string name, Func<T, string?> value) => Add(name, "text", NpgsqlDbType.Text, value);

    public Columns<T> Integer(string name, Func<T, int> value) => Add(name, "integer", NpgsqlDbType.Integer, value);

    public Columns<T> Bigint(string name, Func<T, long> value) => Add(name, "bigint", NpgsqlDbType.Bigint, value);

    public Columns<T> Uuid(string name, Func<T, Guid?> value) => Add(name, "uuid", NpgsqlDbType.Uuid, value);

    public Columns<T> Real(string name, Func<T, double?> value) => Add(name, "double precision", NpgsqlDbType.Double, value);

    public Columns<T> Boolean(string name, Func<T, bool?> value) => Add(name, "boolean", NpgsqlDbType.Boolean, value);

    public Columns<T> Date(string name, Func<T, DateOnly> value) => Add(name, "date", NpgsqlDbType.Date, value);

    public Columns<T> Bytes(string name, Func<T, byte[]> value) => Add(name, "bytea", NpgsqlDbType.Bytea, value);

    public Columns<T> Json(string name, Func<T, string?> value) => Add(name, "jsonb", NpgsqlDbType.Jsonb, value);

    public Columns<T> Interval(string name, Func<T, TimeSpan?> value) => Add(name, "interval", NpgsqlDbType.Interval, value);

    public Columns<T> Time(string name, Func<T, DateTimeOffset?> value) =>
        Add(name, "timestamptz", NpgsqlDbType.TimestampTz, r => value(r)?.UtcDateTime);

    /// <summary>The rows as SQL, a table named r, where the first of its parameters has this number.</summary>
    /// <remarks>
    /// The arrays, all of one length, are unnested side by side in a list of selected values: there a row is passed on as it is made.
    /// One call of unnest with all of them, as a table, would store each column by itself first.
    /// </remarks>
    public string Rows(int first = 1) =>
        $"(select {string.Join(", ", _columns.Select((c, i) => $"unnest(${first + i}::{c.Type}[]) as {c.Name}"))}) r";

    /// <summary>"insert into table (columns) select columns from the rows", with what is to follow.</summary>
    public Statement<T> InsertInto(string table, string then = "") => Statement($"insert into {table} ({Names}) select * from {{rows}} {then}");

    /// <summary>The same, where each of the rows must become one in the table, else the transaction fails.</summary>
    public Statement<T> CheckedInsertInto(string table, string then, string what) =>
        Checked($"insert into {table} ({Names}) select * from {{rows}} {then}", what);

    /// <summary>Any statement that reads the rows: {rows} in it stands for them.</summary>
    public Statement<T> Statement(string sql) => new(this, sql.Replace("{rows}", Rows(), StringComparison.Ordinal));

    /// <summary>A statement as above that must write a row for each of the rows, else the transaction fails: see <see cref="StoredRequirement"/>.</summary>
    public Statement<T> Checked(string sql, string what) =>
        Statement($"with written as ({sql} returning 1) select traceability.require((select count(*) from written) = cardinality($1), '{what}')");

    /// <summary>Adds the parameters.</summary>
    public void Fill(NpgsqlBatchCommand command, IReadOnlyList<T> rows)
    {
        foreach (var (_, _, fill) in _columns)
        {
            command.Parameters.Add(fill(rows));
        }
    }

    private Columns<T> Add<TValue>(string name, string type, NpgsqlDbType dbType, Func<T, TValue> value)
    {
        _columns.Add((name, type, rows =>
        {
            var values = new TValue[rows.Count];
            for (var i = 0; i < values.Length; i++)
            {
                values[i] = value(rows[i]);
            }

            return new NpgsqlParameter<TValue[]> { TypedValue = values, NpgsqlDbType = NpgsqlDbType.Array | dbType };
        }));
        return this;
    }
}

/// <summary>One statement on many rows.</summary>
internal sealed class Statement<T>(Columns<T> columns, string sql)
{
    /// <summary>The statement on these rows.</summary>
    public NpgsqlBatchCommand Of(IReadOnlyList<T> rows)
    {
        var command = new NpgsqlBatchCommand(sql);
        columns.Fill(command, rows);
        return command;
    }

    /// <summary>Adds the statement, unless there are no rows.</summary>
    public void AddTo(NpgsqlBatch batch, IReadOnlyList<T> rows)
    {
        if (rows.Count > 0)
        {
            batch.BatchCommands.Add(Of(rows));
        }
    }
}
