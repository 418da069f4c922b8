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

/// <summary>One statement that writes many rows: a parameter is an array with one value for each row.</summary>
/// <remarks>The text depends on the columns only, never on the number of rows, so the server plans it once.</remarks>
internal sealed class Unnest<T>(IReadOnlyCollection<T> rows)
{
    private readonly List<string> _names = [];
    private readonly List<string> _casts = [];
    private readonly List<NpgsqlParameter> _parameters = [];

    public Unnest<T> Text(string name, Func<T, string?> value) => Add(name, "text", NpgsqlDbType.Text, value);

    public Unnest<T> Integer(string name, Func<T, int> value) => Add(name, "integer", NpgsqlDbType.Integer, value);

    public Unnest<T> Bigint(string name, Func<T, long> value) => Add(name, "bigint", NpgsqlDbType.Bigint, value);

    public Unnest<T> Uuid(string name, Func<T, Guid> value) => Add(name, "uuid", NpgsqlDbType.Uuid, value);

    public Unnest<T> Boolean(string name, Func<T, bool> value) => Add(name, "boolean", NpgsqlDbType.Boolean, value);

    public Unnest<T> Date(string name, Func<T, DateOnly> value) => Add(name, "date", NpgsqlDbType.Date, value);

    public Unnest<T> Bytes(string name, Func<T, byte[]> value) => Add(name, "bytea", NpgsqlDbType.Bytea, value);

    public Unnest<T> Json(string name, Func<T, string?> value) => Add(name, "jsonb", NpgsqlDbType.Jsonb, value);

    public Unnest<T> Interval(string name, Func<T, TimeSpan> value) => Add(name, "interval", NpgsqlDbType.Interval, value);

    public Unnest<T> Time(string name, Func<T, DateTimeOffset?> value) =>
        Add(name, "timestamptz", NpgsqlDbType.TimestampTz, r => value(r)?.UtcDateTime);

    /// <summary>"insert into table (columns) select columns from the rows", with what is to follow.</summary>
    public NpgsqlBatchCommand InsertInto(string table, string then = "") =>
        Command($"insert into {table} ({string.Join(", ", _names)}) select * from {Rows()} {then}");

    /// <summary>The same, where each of the rows must become one in the table, else the transaction fails.</summary>
    public NpgsqlBatchCommand CheckedInsertInto(string table, string then, string what) =>
        Checked($"insert into {table} ({string.Join(", ", _names)}) select * from {{rows}} {then}", what);

    /// <summary>Any statement that reads the rows: {rows} in it stands for them.</summary>
    public NpgsqlBatchCommand Statement(string sql) => Command(sql.Replace("{rows}", Rows(), StringComparison.Ordinal));

    /// <summary>A statement as above that must write a row for each of the rows, else the transaction fails: see <see cref="StoredRequirement"/>.</summary>
    public NpgsqlBatchCommand Checked(string sql, string what) =>
        Statement($"with written as ({sql} returning 1) select traceability.require((select count(*) from written) = cardinality($1), '{what}')");

    private string Rows() => $"unnest({string.Join(", ", _casts)}) as r({string.Join(", ", _names)})";

    private Unnest<T> Add<TValue>(string name, string cast, NpgsqlDbType type, Func<T, TValue> value)
    {
        _names.Add(name);
        _casts.Add($"${_names.Count}::{cast}[]");
        _parameters.Add(new() { Value = rows.Select(value).ToArray(), NpgsqlDbType = NpgsqlDbType.Array | type });
        return this;
    }

    private NpgsqlBatchCommand Command(string sql)
    {
        var command = new NpgsqlBatchCommand(sql);
        foreach (var parameter in _parameters)
        {
            command.Parameters.Add(parameter);
        }

        return command;
    }
}
